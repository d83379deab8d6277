"""shop.toml, models.toml and the book: errors that say file, field, what is wrong and what would be right."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shopboard.records import Layout, Role
from shopboard.store import ShopUnusable, open_shop, read_book, read_models, read_settings, verify
from shopboard.store.new_shop import MODELS_TOML, SHOP_TOML

NAME = 'name = "x"\n'
MODEL = '[[model]]\nid = "m"\nname = "M"\n'


def test_a_new_shop_says_what_its_comments_promise(folder):
    settings = read_settings(folder)
    assert settings.name == "Our shop" and settings.labour_rate == 60
    assert [(bay.id, bay.can) for bay in settings.bays] == [("1", ("lift", "exhaust")), ("2", ("yard",))]
    assert settings.person("me").roles == (Role.OWNER, Role.COUNTER, Role.TECHNICIAN)
    assert settings.hours["fri"] == "08:00-15:00" and "sat" not in settings.hours
    assert read_models(folder) == {}


def _without_marks(text):
    """The file as it is once somebody took the # away from every example."""
    lines = (
        line.removeprefix("# ") if " = " in line or line.startswith("# [[") else line for line in text.splitlines()
    )
    return "\n".join(lines)


def test_every_example_in_the_comments_is_right_once_its_mark_is_taken_away(tmp_path):
    (tmp_path / "shop.toml").write_text(_without_marks(SHOP_TOML))
    (tmp_path / "models.toml").write_text(_without_marks(MODELS_TOML))
    settings = read_settings(tmp_path)
    assert settings.country == "AT" and settings.suppliers[0].usual_days == 5 and settings.instruments
    assert settings.people[0].hours == {"mon": "08:00-12:00"}
    (model,) = read_models(tmp_path).values()
    assert model.layout is Layout.IN_LINE and model.service_points[0].severe_hours == 25


def test_money_is_exact(tmp_path):
    (tmp_path / "shop.toml").write_text(NAME + 'labour_rate = 62.10\ntax_percent = "8.1"\n')
    found = read_settings(tmp_path)
    assert (found.labour_rate, found.tax_percent) == (Decimal("62.10"), Decimal("8.1"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", 'name: is missing: write name = "…"'),
        ('nam = "x"', 'nam: is not known here: did you mean "name"?'),
        (NAME + 'decimals = "2"', "decimals: is text where a whole number belongs: write it like 2"),
        (NAME + "decimals = 5", "decimals: 5 is out of range: it must be at most 3: write it like 2"),
        (NAME + 'units = "si"', 'units: \'si\' is not one of the choices: choose "metric" or "us"'),
        (NAME + '[hours]\nmon = "8-5"', "hours.mon: '8-5' is no span of a day: write it like \"08:00-17:00\""),
        (NAME + '[hours]\nmoo = "08:00-09:00"', 'hours.moo: is not known here: did you mean "mon"?'),
        (
            NAME + '[hours]\nmon = "18:00-09:00"',
            'hours.mon: "18:00-09:00" is no span of a day: write it like "08:00-17:00", start first',
        ),
        (
            NAME + '[[bay]]\nid = "1"\nname = "l"\ncan = "lift"',
            'bay[1].can: is text where a list belongs: write it like ["…", "…"]',
        ),
        (
            NAME + '[[bay]]\nid = "1"\nname = "l"\n[[bay]]\nid = "1"\nname = "y"',
            'bay[2].id: "1" is used twice: give each bay its own id',
        ),
        (NAME + '[bay]\nid = "1"', "bay: is not a list: write each as [[bay]], with two brackets"),
        (
            NAME + '[[person]]\nid = "a"\nname = "A"\nroles = ["boss"]',
            'person[1].roles[1]: \'boss\' is not one of the choices: choose "counter" or "technician" or "owner"',
        ),
        (
            NAME + '[[person]]\nid = "a"\nname = "A"\nroles = ["owner"]\nhours = { mo = "08:00-09:00" }',
            'person[1].hours.mo: "mo" is no day: the days are mon, tue, wed, thu, fri, sat, sun',
        ),
        (
            NAME + 'zone = "Mars"',
            'zone: "Mars" is no time zone: a time zone is written like "Europe/Vienna" or "America/Denver"',
        ),
        (NAME + 'tax_percent = "much"', 'tax_percent: "much" is not a number: write it like 62.50'),
        (NAME + "labour_rate = -5", "labour_rate: -5 is out of range: write it like 62.50, zero at least"),
        (NAME + "labour_rate = nan", "labour_rate: NaN is out of range: write it like 62.50, zero at least"),
        (NAME + 'bays = []\n[[bay]]\nid = "1"', "bay: stands beside `bays`: write each as [[bay]]"),
    ],
)
def test_a_wrong_shop_file_is_told_in_one_line(tmp_path, text, said):
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(ShopUnusable) as caught:
        read_settings(tmp_path)
    assert str(caught.value) == f"shop.toml: {said}"
    with pytest.raises(ShopUnusable):
        open_shop(tmp_path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = 1", "x: is not known here: write each model as [[model]]"),
        ('[model]\nid = "m"', "model: is not a list: write each model as [[model]], with two brackets"),
        (MODEL, 'model[1].layout: is missing: write layout = "in-line" or "split" or "transaxle" or "gear"'),
        (MODEL + 'layout = "gear"\nlacs = []', 'model[1].lacs: is not known here: did you mean "lacks"?'),
        (
            MODEL + 'layout = "gear"\n' + MODEL + 'layout = "gear"',
            'model[2].id: "m" is used twice: give each model its own id',
        ),
        (
            MODEL + 'layout = "gear"\ndata = { a = [1] }',
            'model[1].data.a: is a list where a whole number or a number or text belongs: write it like "…"',
        ),
        (
            MODEL + 'layout = "gear"\n[[model.service_points]]\nid = "a"\nname = "A"\nnormal_hours = 9',
            "model[1].service_points[1].severe_hours: is missing: write severe_hours = 0.8",
        ),
    ],
)
def test_a_wrong_models_file_is_told_in_one_line(tmp_path, text, said):
    (tmp_path / "models.toml").write_text(text)
    with pytest.raises(ShopUnusable) as caught:
        read_models(tmp_path)
    assert str(caught.value) == f"models.toml: {said}"


@pytest.mark.parametrize(
    "data", [b"name = ", b"name = x", b'name = "\xff"', b'name = "a\\nb"\nzone = "a\\nb\\u001b[2J"']
)
def test_what_is_no_toml_or_holds_control_characters_is_still_one_printable_line(tmp_path, data):
    (tmp_path / "shop.toml").write_bytes(data)
    with pytest.raises(ShopUnusable) as caught:
        read_settings(tmp_path)
    assert str(caught.value).startswith("shop.toml: ") and str(caught.value).isprintable()


@given(st.data())
@settings(max_examples=150, deadline=None)
@example(None)
def test_a_shop_file_mistyped_anywhere_never_ends_in_a_traceback(tmp_path_factory, data):
    place = tmp_path_factory.mktemp("mistyped")
    text = _without_marks(SHOP_TOML)
    for _ in range(data.draw(st.integers(1, 3)) if data else 0):
        at = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 12))
        text = text[:at] + data.draw(st.text("[]={}\"'#.,-0123456789 \nabx\t\\", max_size=3)) + text[at + gone :]
    (place / "shop.toml").write_text(text)
    try:
        assert read_settings(place).name is not None
    except ShopUnusable as error:
        assert str(error).isprintable() and error.would_do


def test_the_shipped_book_reads_and_a_shops_own_entries_join_it(folder):
    shipped = read_book(None)
    assert read_book(folder).causes.keys() == shipped.causes.keys()
    one = next(iter(shipped.symptoms))
    (folder / "book" / "ours.toml").write_text(f'[symptom.{one}]\nname = "in our words"\n')
    ours = read_book(folder)
    assert ours.symptoms.keys() == shipped.symptoms.keys() and ours.symptoms[one].name == "in our words"


def test_an_addition_that_names_an_unknown_cause_is_one_line_with_file_and_entry(folder):
    first, second = list(read_book(None).causes)[:2]
    text = f'[cause.{first}]\ncorrection = ["no-such-thing"]\n[cause.{second}]\ncorrection = ["nor-this"]\n'
    (folder / "book" / "ours.toml").write_text(text)
    with pytest.raises(ShopUnusable) as caught:
        read_book(folder)
    said = str(caught.value)
    assert said.startswith(f"book/ours.toml: cause.{first}: ") and "no-such-thing" in said and said.isprintable()
    assert "more: `shopboard verify` lists them" in said
    lines = [f"{fault.where}: {fault.why}" for fault in verify(folder)]
    assert [line.partition(": ")[2].partition(": ")[0] for line in lines] == [f"cause.{first}", f"cause.{second}"]


def test_a_book_file_that_is_no_text_is_one_line(folder):
    (folder / "book" / "ours.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(ShopUnusable, match=r"book/ours\.toml: is not UTF-8 text"):
        read_book(folder)


@pytest.mark.parametrize("file", ["shop.toml", "models.toml", "book/mine.toml"])
def test_brackets_without_end_are_one_line(folder, file):
    path = folder / file
    path.parent.mkdir(exist_ok=True)
    path.write_text(NAME + "x = " + "[" * 5000)
    with pytest.raises(ShopUnusable, match="brackets stand in brackets"):
        {"shop.toml": read_settings, "models.toml": read_models, "book/mine.toml": read_book}[file](folder)

"""verify: silent on a sound shop, and one fault with a way to mend it for each thing that is wrong."""

from __future__ import annotations

import json

import msgspec
import pytest
from aids.store_steps import START, change, collect, need, take_in

from shopboard.records import Answer, Comeback, Finding, Layout, Machine, PartLine, Step, Table
from shopboard.store import AtomicStorage, ShopUnusable, open_shop, read_book, verify
from shopboard.store.tiny_files import Meta
from shopboard.store.verifying import Fault

MODELS = '[[model]]\nid = "field-20"\nname = "Field 20"\nlayout = "in-line"\n'


@pytest.fixture
def sound(folder):
    """A shop in which all is well: two open jobs, one closed and filed, three changes not yet at rest."""
    (folder / "models.toml").write_text(MODELS)
    store = open_shop(folder)
    for word in ("one", "two", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", need(3, "S-1"))
    store.commit("ana", collect(3))
    store.checkpoint()
    for job, bay in ((1, "1"), (2, "2")):
        store.commit("ana", change(job, "in", bay=bay, person="me"))
    store.commit("ana", need(1, "S-2"))
    return folder


def _commit(folder, *puts):
    open_shop(folder).commit("ana", lambda state, now: Step("by hand", puts))


def _job(folder, id=1, **fields):
    return msgspec.structs.replace(open_shop(folder).state.jobs[id], **fields)


def test_a_sound_shop_has_no_faults(sound, tmp_path):
    before = {path: path.read_bytes() for path in sound.rglob("*") if path.is_file()}
    assert verify(sound) == ()
    assert {path: path.read_bytes() for path in sound.rglob("*") if path.is_file()} == before
    open_shop(sound).close()
    assert verify(sound) == ()


def test_a_new_shop_has_no_faults_and_a_folder_without_one_is_refused(folder, tmp_path):
    assert verify(folder) == ()
    with pytest.raises(ShopUnusable, match="is no shop"):
        verify(tmp_path)


def _one(folder):
    faults = verify(folder)
    assert len(faults) == 1, faults
    assert isinstance(faults[0], Fault) and faults[0].mend
    assert f"{faults[0].where}{faults[0].why}{faults[0].mend}".isprintable()
    return faults[0]


def test_each_broken_file_of_the_shop_is_a_fault(sound):
    (sound / "shop.toml").write_text('name = "x"\nunit = "us"')
    (sound / "models.toml").write_text("model = 1")
    (sound / "book" / "ours.toml").write_text("[cause")
    where = [fault.where for fault in verify(sound)]
    assert where[:2] == ["shop.toml", "models.toml"] and where[2].startswith("book/ours.toml")
    assert len(where) == 3


def test_a_model_that_is_gone(sound):
    (sound / "models.toml").write_text("")
    fault = _one(sound)
    assert (fault.where, "field-20" in fault.why, 'id = "field-20"' in fault.mend) == (
        "machine 1 and 2 more",
        True,
        True,
    )


def test_two_machines_in_one_bay(sound):
    _commit(sound, _job(sound, 2, bay="1"))
    assert "stands in 1, where T-0001 stands too" in _one(sound).why


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"customer": 9}, "is for customer 9, who is not there"),
        ({"machine": 9}, "is for machine 9, which is not there"),
        ({"comeback": Comeback(of=77)}, "is a comeback of T-0077, which is not there"),
        ({"bay": "attic"}, 'stands in bay "attic", which shop.toml does not know'),
        ({"person": "zed"}, 'is given to "zed", whom shop.toml does not know'),
        ({"symptoms": ("sings",)}, 'has the symptom "sings", which the trouble book does not know'),
        (
            {"answers": (Answer(check="smell", outcome="odd", at=START, by="ana"),)},
            'answers the check "smell", which the trouble book does not know',
        ),
        (
            {"findings": (Finding(cause="gremlins", at=START, by="ana"),)},
            'was found to be "gremlins", which the trouble book does not know',
        ),
    ],
)
def test_what_a_job_names_and_nobody_knows(sound, fields, why):
    _commit(sound, _job(sound, **fields))
    fault = _one(sound)
    assert (fault.where, fault.why) == ("T-0001", why)


def test_answers_of_the_book_and_the_two_that_count_for_nothing_are_right(sound):
    check = next(iter(read_book(None).checks.values()))
    outcomes = [next(iter(check.outcomes)), "unsure", "not tested"]
    answers = tuple(Answer(check=check.id, outcome=outcome, at=START, by="ana") for outcome in outcomes)
    _commit(sound, _job(sound, answers=answers))
    assert verify(sound) == ()
    _commit(sound, _job(sound, answers=(Answer(check=check.id, outcome="blue", at=START, by="ana"),)))
    assert "none of its outcomes" in _one(sound).why


def test_a_part_line_and_a_machine_that_hang_in_the_air(sound):
    line = PartLine(id=7, job=55, number="S-9", name="seal", quantity=1, needed_at=START)
    _commit(sound, line, Machine(id=8, customer=66, model="field-20", layout=Layout.GEAR))
    found = {fault.where: fault.why for fault in verify(sound)}
    assert found == {
        "machine 8": "belongs to customer 66, who is not there",
        "part line 7": "is for T-0055, which is not open",
    }


def test_an_unknown_supplier(sound):
    line = msgspec.structs.replace(open_shop(sound).state.parts[2], supplier="nobody")
    _commit(sound, line)
    assert 'comes from "nobody"' in _one(sound).why


def test_a_torn_end_is_told_with_file_and_line_and_mended_by_opening(sound):
    with (sound / "journal" / "000000000006.jsonl").open("ab") as file:
        file.write(b'{"c":"0')
    fault = _one(sound)
    assert fault.where == "journal/000000000006.jsonl, line 4" and "open the shop" in fault.mend
    open_shop(sound)
    assert verify(sound) == ()


def test_damage_in_the_journal_is_told_with_file_and_line(sound):
    path = sound / "journal" / "000000000006.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0] + lines[1].replace(b"me", b"em") + lines[2])
    faults = verify(sound)
    assert any(fault.where == "journal/000000000006.jsonl, line 2" and "backup" in fault.mend for fault in faults)


def test_damage_in_a_sealed_segment_is_told(sound):
    path = sound / "journal" / "000000000001.jsonl.gz"
    path.write_bytes(path.read_bytes()[:-9])
    assert _one(sound).where == "journal/000000000001.jsonl.gz"


@pytest.mark.parametrize("name", ["open.json", "index.json", "closed-2026-03.json"])
def test_a_flipped_byte_in_a_file_at_rest_is_told(sound, name):
    month = next((sound / "db").glob("closed-*.json")).name
    path = sound / "db" / (month if name.startswith("closed") else name)
    path.write_bytes(path.read_bytes().replace(b"three", b"tired", 1).replace(b"one", b"ona", 1))
    fault = _one(sound)
    assert fault.where == f"db/{path.name}" and "does not match its checksum" in fault.why


def test_a_missing_database_is_told(sound):
    (sound / "db" / "open.json").unlink()
    assert any("db/open.json is missing" in f"{fault.where} {fault.why}" for fault in verify(sound))


def test_an_id_that_would_be_given_again_is_told(sound):
    open_shop(sound).close()
    path = sound / "db" / "open.json"
    data = json.loads(path.read_bytes())
    data["meta"]["1"]["next_ids"][Table.JOBS] = 2
    path.write_text(json.dumps(data))
    assert any(fault.why == "id 3 is in use, but 2 is next" for fault in verify(sound))


def test_a_job_filed_in_the_wrong_month_is_told(sound):
    (path,) = (sound / "db").glob("closed-*.json")
    path.rename(path.with_name("closed-2001-01.json"))
    fault = _one(sound)
    assert fault.where == "db/closed-2001-01.json: T-0003" and fault.why.startswith("was closed in 20")


def test_an_index_that_does_not_match_the_months_is_told(sound):
    index = AtomicStorage(sound / "db" / "index.json")
    tables = index.read()
    index.write_signed({"closed": {}}, Meta(seq=5))
    fault = _one(sound)
    assert fault.why == "is missing from the index" and "delete db/index.json" in fault.mend
    (sound / "db" / "index.json").unlink()
    assert verify(sound) == ()
    extra = tables["closed"]["3"] | {"id": 4}
    index.write_signed({"closed": {3: tables["closed"]["3"], 4: extra}}, Meta(seq=5))
    assert "db/index.json: T-0004" in [fault.where for fault in verify(sound)]


def test_a_month_that_cannot_be_read_is_told(sound):
    (path,) = (sound / "db").glob("closed-*.json")
    path.write_bytes(b"{")
    assert any(fault.where == f"db/{path.name}" and "cannot be read" in fault.why for fault in verify(sound))


@pytest.mark.parametrize(("line", "word"), [('country = "XX"', '"XX"'), ('country = "AT"\nregion = "ZZ"', '"ZZ"')])
def test_a_country_whose_holidays_nobody_knows_is_told(sound, line, word):
    path = sound / "shop.toml"
    path.write_text(path.read_text().replace('zone = "UTC"', f'zone = "UTC"\n{line}'))
    fault = _one(sound)
    assert fault.where == "shop.toml" and word in fault.why

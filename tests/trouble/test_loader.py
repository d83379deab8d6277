"""The loader tells every mistake with file, entry and mend, and merges a shop's additions."""

from __future__ import annotations

import pytest
from aids.small_book import CAUSES, CHECKS, SYMPTOMS, TEXTS, WORK, small_book

from shopboard.trouble import BookErrors, load_book

EXTRA = """
[cause.extra]
name = "extra"
weight = "rare"
layouts = ["in-line"]
correction = ["top-up"]
shows = { weak-drive = "often" }
"""

# what is wrong: (file, old text, new text, entry told, words of why, words of mend)
MISTAKES = {
    "unknown symptom": ("causes.toml", "shows = { shakes = ", "shows = { shake = ", "cause.", "shake", "shakes"),
    "unknown check": ("causes.toml", "answers.oil-level", "answers.oil-levl", "cause.low-oil", "oil-levl", "oil-level"),
    "unknown outcome": ("causes.toml", "{ low = ", "{ lo = ", "cause.low-oil", "no outcome lo", "low"),
    "normal outcome named": ("causes.toml", "{ low = ", "{ right = ", "cause.low-oil", "normal outcome", "take it out"),
    "unknown correction": ("causes.toml", '["top-up"]', '["topup"]', "cause.low-oil", "topup", "top-up"),
    "no correction": ("causes.toml", 'correction = ["top-up"]', "", "cause.low-oil", "no correction", "correction ="),
    "frequency misspelt": (
        "causes.toml",
        '"almost always"',
        '"almst always"',
        "cause.",
        "almst always",
        "almost always",
    ),
    "weight misspelt": ("causes.toml", '"everyday"', '"evryday"', "cause.low-oil", "evryday", "everyday"),
    "cause shows nothing": ("causes.toml", 'shows = { weak-drive = "usually" }\n', "", "cause.", "no symptom", "shows"),
    "symptom nobody shows": (
        "symptoms.toml",
        SYMPTOMS,
        SYMPTOMS + '[symptom.x]\nname = "x"\notherwise = "rarely"\n',
        "symptom.x",
        "no cause shows it",
        "name it",
    ),
    "outcome nobody shows": (
        "causes.toml",
        'answers.shaft-runout = { bent = "usually" }\n',
        "",
        "check.shaft-runout",
        "no cause shows outcome bent",
        "answers.shaft-runout",
    ),
    "correction nobody needs": (
        "work.toml",
        WORK,
        WORK + '[correction.x]\nname = "x"\nminutes = 1\n',
        "correction.x",
        "no cause",
        "name it",
    ),
    "cover without minutes": ("work.toml", "off = 8\n", "", "cover.floor-plate", "off is missing", "a number"),
    "covers in a circle": ("work.toml", "off = 8\n", 'off = 8\nunder = ["shaft-guard"]\n', "cover.", "circle", "under"),
    "unknown cover": (
        "work.toml",
        'under = ["floor-plate"]',
        'under = ["floor"]',
        "cover.shaft-guard",
        "floor",
        "floor-plate",
    ),
    "cover of another layout": (
        "checks.toml",
        'covers = { in-line = ["floor-plate"], split = ["deck"] }',
        'covers = ["floor-plate"]',
        "check.charge-pressure",
        "not on split",
        "by layout",
    ),
    "unknown caution": (
        "checks.toml",
        'cautions = ["shaft"]',
        'cautions = ["shft"]',
        "check.joint-play",
        "shft",
        "shaft",
    ),
    "duplicate in two files": (
        "work.toml",
        WORK,
        WORK + EXTRA.replace("extra", "low-oil"),
        "cause.low-oil",
        "stands in causes.toml too",
        "rename",
    ),
    "duplicate in one file": ("causes.toml", CAUSES, CAUSES + EXTRA + EXTRA, "line", "not TOML", "rename"),
    "wrong unit": (
        "checks.toml",
        "minutes = 15",
        'minutes = "15 min"',
        "check.charge-pressure",
        "15 min",
        "without unit",
    ),
    "minutes below zero": ("checks.toml", "minutes = 15", "minutes = -15", "check.charge-pressure", "-15", "from 0"),
    "minutes miss a layout": (
        "checks.toml",
        "minutes = { in-line = 2, split = 4 }",
        "minutes = { in-line = 2 }",
        "check.bypass-lever",
        "split",
        "minutes =",
    ),
    "unknown layout": ("causes.toml", '["in-line", "split"]', '["inline", "split"]', "cause.", "inline", "in-line"),
    "unknown place": ("checks.toml", 'where = "yard"', 'where = "field"', "check.", "field", "yard"),
    "two normal outcomes": (
        "checks.toml",
        'low = { name = "oil level low", otherwise = "rarely" }',
        'low = { name = "oil level low", normal = true }',
        "check.oil-level",
        "2 outcomes",
        "exactly one",
    ),
    "one outcome only": (
        "checks.toml",
        'low = { name = "oil level low", otherwise = "rarely" }\n',
        "",
        "check.oil-level",
        "two outcomes",
        "at least one other",
    ),
    "counter asks the bay": (
        "symptoms.toml",
        'ask = ["hot-or-cold"]',
        'ask = ["case-drain"]',
        "symptom.weak-drive",
        "not a counter check",
        "counter",
    ),
    "unknown field": (
        "checks.toml",
        "minutes = 15",
        "minuts = 15\nminutes = 15",
        "check.charge-pressure",
        "minuts",
        "minutes",
    ),
    "unknown kind": (
        "work.toml",
        WORK,
        WORK + '[correktion.x]\nname = "x"\n',
        "correktion",
        "no such kind",
        "correction",
    ),
    "not an id": ("causes.toml", "[cause.low-oil]", '[cause."Low Oil"]', "cause.Low Oil", "not an id", "small letters"),
    "not TOML": ("causes.toml", 'name = "low oil"', 'name = "low oil', "line", "not TOML", "quote"),
    "ratio without a reading": (
        "checks.toml",
        'low = { name = "oil level low", otherwise = "rarely" }',
        'low = { name = "oil level low", otherwise = "rarely", ratio = [1, 1] }',
        "check.oil-level",
        "no reading",
        "reading =",
    ),
    "two readings, one ratio": (
        "checks.toml",
        'reading = { quantity = "case_drain_flow", limit = "case_drain_limit" }',
        'reading = [{ quantity = "case_drain_flow", limit = "case_drain_limit" }, { quantity = "loss", limit = 1 }]',
        "check.case-drain",
        "ratio",
        "2 of them",
    ),
    "a quantity twice": (
        "checks.toml",
        'reading = { quantity = "case_drain_flow", limit = "case_drain_limit" }',
        'reading = [{ quantity = "loss", limit = 1 }, { quantity = "loss", limit = 2 }]',
        "check.case-drain",
        "twice",
        "take one out",
    ),
    "limit of nothing": (
        "checks.toml",
        'reading = { quantity = "case_drain_flow", limit = "case_drain_limit" }',
        'reading = { quantity = "case_drain_flow", limit = 0 }',
        "check.case-drain",
        "limit is 0",
        "above 0",
    ),
    "reading without ratio": ("checks.toml", ", ratio = [1.8, 0.5]", "", "check.case-drain", "ratio", "[mean, spread]"),
    "same as no symptom": (
        "checks.toml",
        'open = { name = "bypass not home", otherwise = "almost never" }',
        'open = { name = "bypass not home", otherwise = "almost never", same_as = "creep" }',
        "check.bypass-lever",
        "creep",
        "creeps",
    ),
    "cause and check share no layout": (
        "causes.toml",
        'answers.joint-play = { front = "usually" }',
        'answers.joint-play = { front = "usually" }\nanswers.oil-level = { low = "seldom" }',
        "cause.front-joint",
        "",
        "",
    ),
    "correction of another layout": (
        "work.toml",
        'name = "top up the oil"\nminutes = 10',
        'name = "top up the oil"\nminutes = 10\nlayouts = ["split"]',
        "cause.low-oil",
        "does not hold on in-line",
        "add the layouts",
    ),
}
del MISTAKES["cause and check share no layout"]  # in-line is shared; a true case stands below


@pytest.mark.parametrize("mistake", MISTAKES)
def test_each_mistake_is_told_with_file_entry_and_mend(mistake: str) -> None:
    file, old, new, entry, why, mend = MISTAKES[mistake]
    assert old in TEXTS[file]
    with pytest.raises(BookErrors) as caught:
        load_book({**TEXTS, file: TEXTS[file].replace(old, new, 1)})
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.errors)
    fitting = [e for e in caught.value.errors if entry in e.entry and why in e.why and mend in e.mend]
    assert fitting, lines
    assert all(error.file in TEXTS and error.mend for error in caught.value.errors)


def test_a_cause_that_answers_a_check_of_other_layouts_is_told() -> None:
    wrong = CAUSES.replace(
        'layouts = ["in-line", "gear"]\nweight = "uncommon"', 'layouts = ["gear"]\nweight = "uncommon"'
    )
    wrong = wrong.replace(
        "answers.shaft-runout = { bent", 'answers.oil-level = { low = "seldom" }\nanswers.shaft-runout = { bent'
    )
    with pytest.raises(BookErrors, match="check oil-level holds on none of its layouts"):
        load_book({**TEXTS, "causes.toml": wrong})


def test_all_mistakes_are_told_at_once() -> None:
    wrong = {
        "causes.toml": CAUSES.replace('"everyday"', '"daily"'),
        "checks.toml": CHECKS.replace('where = "counter"', 'where = "desk"'),
    }
    with pytest.raises(BookErrors) as caught:
        load_book({**TEXTS, **wrong})
    assert len(caught.value.errors) == 4  # three weights and a place
    assert {error.file for error in caught.value.errors} == {"causes.toml", "checks.toml"}


def test_a_sound_book_has_what_its_text_says() -> None:
    book = small_book()
    assert book.checks["bypass-lever"].minutes_on("split") == 4
    assert book.checks["bypass-lever"].minutes == 4
    assert book.checks["charge-pressure"].covers_on("split") == ("deck",)
    assert book.checks["case-drain"].normal.ratios == ((0.5, 0.2),)
    assert book.causes["low-oil"].weight == 0.0160
    assert book.causes["piston-wear"].answers["hot-or-cold"] == {"hot": 0.80}
    assert book.cautions["wheels-clear"].name == "wheels clear"
    assert book.corrections["rebuild-pump"].parts[0].lead_class == "seals"
    assert book.service_points["front-joint-grease"].severe_hours == 50
    assert book.symptoms["shakes"].layouts == ("in-line", "gear")


def test_additions_change_named_fields_add_entries_and_drop() -> None:
    shop = """
    [cause.piston-wear]
    weight = "everyday"
    shows = { weak-drive = "usually" }
    answers.hot-or-cold = { cold = "seldom" }
    [cause.shaft-bent]
    drop = true
    [check.shaft-runout]
    drop = true
    """
    book = small_book({"ours.toml": shop + EXTRA})
    changed = book.causes["piston-wear"]
    assert changed.weight == 0.0160
    assert changed.shows == {"weak-drive": 0.80, "creeps": 0.07}
    assert changed.answers["hot-or-cold"] == {"hot": 0.80, "cold": 0.15}
    assert changed.correction == ("rebuild-pump",)
    assert "extra" in book.causes and "shaft-bent" not in book.causes


def test_a_mistake_in_an_addition_names_the_addition() -> None:
    with pytest.raises(BookErrors) as caught:
        small_book({"ours.toml": '[cause.low-oil]\nweight = "dayly"\n'})
    assert [(e.file, e.entry) for e in caught.value.errors] == [("ours.toml", "cause.low-oil")]

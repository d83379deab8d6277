"""What must be true of the shipped trouble book, whatever its weights: complete, readable, and safe to work by."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from aids.shipped_book import FOLDER, shipped_book

from shopboard.estimate.labour import closure
from shopboard.trouble import Book
from shopboard.trouble.book import Accessed
from shopboard.trouble.network import network

LAYOUTS = ("in-line", "split", "transaxle", "gear")
HYDRAULIC = ("in-line", "split", "transaxle")
SHAFT, BELT, TWO = ("in-line",), ("split", "transaxle", "gear"), ("split",)

#: What the trade complains of, in our ids, with the layouts where it must be served.
SYMPTOMS = {
    "weak-drive": LAYOUTS,
    "weak-when-hot": HYDRAULIC,
    "no-drive": LAYOUTS,
    "one-way-only": HYDRAULIC,
    "creeps-in-neutral": HYDRAULIC,
    "jerky-response": LAYOUTS,
    "rolls-on-slope": LAYOUTS,
    "clunk": LAYOUTS,
    "vibration": LAYOUTS,
    "whine": HYDRAULIC,
    "overheats": HYDRAULIC,
    "oil-leak": LAYOUTS,
    "milky-oil": HYDRAULIC,
    "hard-pedal": LAYOUTS,
    "lugs-engine": LAYOUTS,
    "bang-no-drive": LAYOUTS,
    "pulls-aside": TWO,
    "range-jumps-out": ("in-line", "gear"),
}

#: What the trade knows as causes, in our ids, with the layouts where each must be found.
CAUSES = {
    **dict.fromkeys(("oil-low", "oil-thin", "oil-aerated", "suction-plugged", "oil-water", "cooling-poor"), HYDRAULIC),
    **dict.fromkeys(("charge-pump-worn", "charge-relief", "hose-leak"), ("in-line", "split")),
    **dict.fromkeys(("loop-valve-forward", "loop-valve-reverse", "bypass-open", "pump-worn"), HYDRAULIC),
    **dict.fromkeys(("valve-plate-scored", "trunnion-stiff", "input-seal"), HYDRAULIC),
    **dict.fromkeys(("neutral-out", "centering-worn", "damper-worn"), HYDRAULIC),
    **dict.fromkeys(("pivot-binding", "cable-stretched", "travel-blocked"), LAYOUTS),
    **dict.fromkeys(("joint-front", "joint-rear", "slip-spline", "shaft-bent", "yokes-out", "angle-off"), SHAFT),
    **dict.fromkeys(("stub-stripped",), SHAFT),
    **dict.fromkeys(("belt-slipping", "idler-weak"), BELT),
    **dict.fromkeys(("axle-worn", "hub-loose", "tyre-fault", "brake-dragging"), LAYOUTS),
    **dict.fromkeys(("governor-low", "fuel-starved"), LAYOUTS),
    "motor-worn": ("in-line", "transaxle"),
    "wheel-motor-worn": TWO,
    "coupler-worn": ("in-line", "split"),
    "range-collar": ("in-line", "gear"),
    "gearbox-worn": ("in-line", "gear"),
}

#: What can be asked, looked at and measured, and where it is done.
CHECKS = {
    "counter": "ask-hot-cold ask-direction ask-onset ask-work ask-oil ask-noise ask-creep",
    "yard": """oil-level oil-look tyres belt-idler fins-fan bypass-lever pedal-travel pedal-return joint-play
        grease-look arm-watch""",
    "bay": """charge-pressure loop-pressure case-drain block-test neutral-stands shaft-runout joint-angles
        spline-backlash oil-temperature filter-cut swap-hoses""",
    "move": "timed-runs slope-hold vibration-recording",
}

#: What can hurt, in a word that its caution must say.
CAUTIONS = {
    "injection": "surgical emergency",
    "wheels-clear": "rated stands",
    "turning-shafts": "key out",
    "holds-nothing": "parking brake",
    "slope": "second person",
    "stall-test": "above the relief",
    "swapped-hoses": "lunge",
    "all-wheels": "all wheels clear",
    "loader-arms": "approved supports",
    "blades": "battery",
    "interlocks": "bypassed",
    "metal-in-oil": "do not run",
    "used-oil": "local rules",
    "hot-oil": "cool",
    "exhaust": "exhaust",
    "heavy": "hoist",
    "road-test": "seat belt",
    "manual-first": "lockout",
}

#: An instruction that speaks of this must carry one of these cautions.
DANGERS = (
    (r"\bon stands\b|wheels clear", {"wheels-clear"}),
    (r"pressure gauge|gauge on|pressure down|blanking|cap the motor|drain line", {"injection", "stall-test"}),
    (r"\bstall\b", {"stall-test", "road-test"}),
    (r"\bat idle\b|\bidle\b|run ten minutes|engine at", {"exhaust", "road-test", "swapped-hoses", "wheels-clear"}),
    (r"grade|slope|\bhill", {"slope", "road-test"}),
    (r"drive ten|drive a few|drive the same|flying start|steady speed|ease the drive in", {"road-test"}),
    (r"\bshaft\b|\bbelt\b|\bpulley\b|\bfan\b", {"turning-shafts", "injection"}),
    (r"\bdrain into|\bfilter\b.*\bcut|draw a little|jar of oil|level plug", {"hot-oil"}),
    (r"bypass|drive freed|free the drive", {"holds-nothing"}),
    (r"\bfuel\b|\bspark\b", {"fuel-fire", "turning-shafts"}),
)

OF_FLUID_POWER = re.compile(
    r"hydr|\bpump|charge|bypass|swash|\bloop|case.drain|relief|wheel motor|purge|drive oil|suction", re.IGNORECASE
)


@pytest.fixture(scope="module")
def book() -> Book:
    return shipped_book()


def _accessed(book: Book) -> list[Accessed]:
    return [*book.checks.values(), *book.corrections.values(), *book.service_points.values()]


def test_the_book_is_complete(book: Book) -> None:
    assert len(book.symptoms) >= 18
    assert len(book.causes) >= 38
    assert len(book.checks) >= 45
    for id, layouts in SYMPTOMS.items():
        assert set(layouts) <= set(book.symptoms[id].layouts), id
    for id, layouts in CAUSES.items():
        assert set(layouts) <= set(book.causes[id].layouts), id
    for where, ids in CHECKS.items():
        assert {id: book.checks[id].where for id in ids.split()} == dict.fromkeys(ids.split(), where)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_symptom_has_several_causes_on_each_layout(book: Book, layout: str) -> None:
    for symptom in book.symptoms.values():
        if layout in symptom.layouts:
            showing = [id for id, c in book.causes.items() if layout in c.layouts and symptom.id in c.shows]
            assert len(showing) >= 3, symptom.id


@pytest.mark.parametrize("layout", LAYOUTS)
def test_any_two_causes_are_told_apart_by_some_check(book: Book, layout: str) -> None:
    """The outcomes of one check differ by at least a third of all cases, so that one look moves their odds."""
    net = network(book, layout)
    tables = [table[:, 1 : 1 + len(net.causes)] for table in net.checks.values()]
    for one, other in combinations(range(len(net.causes)), 2):
        apart = max(float(abs(table[:, one] - table[:, other]).sum() / 2) for table in tables)
        assert apart >= 1 / 3, (net.causes[one], net.causes[other])


def test_every_check_moves_at_least_two_causes_on_each_of_its_layouts(book: Book) -> None:
    for check in book.checks.values():
        for layout in check.layouts:
            moved = [id for id, c in book.causes.items() if layout in c.layouts and check.id in c.answers]
            assert len(moved) >= 2, (check.id, layout)


def test_a_cause_never_promises_more_than_one_outcome_of_a_check(book: Book) -> None:
    """One outcome is reported, so the frequencies of a cause over one check must leave room for each other."""
    for cause in book.causes.values():
        for check, shown in cause.answers.items():
            assert sum(shown.values()) <= 1.0 + 1e-9, (cause.id, check)


def test_every_cause_says_why_and_how_it_is_mended(book: Book) -> None:
    for cause in book.causes.values():
        assert len(cause.why.split()) >= 8, cause.id
        assert cause.correction
        assert len(cause.answers) >= 3, cause.id


def test_every_caution_of_the_trade_is_there_and_used(book: Book) -> None:
    for id, word in CAUTIONS.items():
        assert word in book.cautions[id].text.casefold(), id
    used = {id for entry in (*book.checks.values(), *book.corrections.values()) for id in entry.cautions}
    assert used == set(book.cautions)


def test_every_instruction_that_can_hurt_carries_its_caution(book: Book) -> None:
    bare = []
    for check in book.checks.values():
        if check.where == "counter":
            continue
        told = f"{check.name}. {check.how}".casefold()
        bare += [
            (check.id, pattern)
            for pattern, wanted in DANGERS
            if re.search(pattern, told) and not wanted & set(check.cautions)
        ]
    assert bare == []


def test_every_check_but_a_question_and_every_correction_carries_a_caution(book: Book) -> None:
    hands_on = [check for check in book.checks.values() if check.where not in ("counter",)]
    assert [entry.id for entry in (*hands_on, *book.corrections.values()) if not entry.cautions] == []


def test_work_that_lifts_opens_or_swaps_says_so(book: Book) -> None:
    for correction in book.corrections.values():
        if "hoist" in correction.needs:
            assert "heavy" in correction.cautions, correction.id
        if any("oil" in part.name and part.lead_class == "shelf" for part in correction.parts):
            assert {"hot-oil", "used-oil", "turning-shafts"} & set(correction.cautions), correction.id
    for entry in _accessed(book):
        cautions = set(getattr(entry, "cautions", ()))
        for layout in entry.layouts:
            if entry.id in book.service_points:
                continue
            if "wheel" in entry.covers_on(layout):
                assert "wheels-clear" in cautions, entry.id
            if "mow-deck" in closure(entry.covers_on(layout), {c.id: c.under for c in book.covers.values()}):
                assert cautions & {"blades", "heavy", "turning-shafts", "wheels-clear"}, entry.id
    assert {"swapped-hoses", "injection"} <= set(book.checks["swap-hoses"].cautions)
    assert {"stall-test", "injection"} <= set(book.checks["loop-pressure"].cautions)
    assert {"slope", "road-test"} <= set(book.checks["slope-hold"].cautions)
    assert "interlocks" in book.corrections["renew-switch"].cautions


def test_a_gear_drive_has_nothing_of_fluid_power(book: Book) -> None:
    for entry in (*book.causes.values(), *_accessed(book), *book.covers.values()):
        if "gear" in entry.layouts:
            outcomes = getattr(entry, "outcomes", {}).values()
            parts = getattr(entry, "parts", ())
            said = [entry.name, getattr(entry, "how", ""), getattr(entry, "why", "")]
            said += [each.name for each in (*outcomes, *parts)]
            assert not OF_FLUID_POWER.search(" | ".join(said)), entry.id


def test_names_read_alone(book: Book) -> None:
    for entry in (*book.symptoms.values(), *book.causes.values(), *_accessed(book), *book.covers.values()):
        assert entry.name == entry.name.strip()
        assert entry.name[0].islower() or entry.name[0].isdigit(), entry.name
        assert len(entry.name) <= 60, entry.name
        assert "_" not in entry.name
    for check in book.checks.values():
        names = [outcome.name for outcome in check.outcomes.values()]
        assert len(set(names)) == len(names)
        assert all(len(name) <= 46 for name in names), check.id
        assert check.how.endswith((".", "?")), check.id
        assert len(check.how) <= 200, check.id


@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_two_entries_of_a_layout_have_one_name(book: Book, layout: str) -> None:
    for table in (book.symptoms, book.causes, book.checks, book.corrections, book.covers, book.service_points):
        names = [entry.name for entry in table.values() if layout in entry.layouts]
        assert len(set(names)) == len(names)


def test_customers_have_their_own_words(book: Book) -> None:
    words = [word for symptom in book.symptoms.values() for word in symptom.words]
    assert len(set(words)) == len(words)
    for symptom in book.symptoms.values():
        assert 6 <= len(symptom.words) <= 12, symptom.id
        assert 2 <= len(symptom.ask) <= 6, symptom.id


def test_minutes_are_those_of_a_workshop(book: Book) -> None:
    for check in book.checks.values():
        least, most = {"counter": (1, 2), "yard": (1, 10), "bay": (2, 40), "move": (5, 40)}[check.where]
        assert all(least <= check.minutes_on(layout) <= most for layout in check.layouts), check.id
    for correction in book.corrections.values():
        assert all(10 <= correction.minutes_on(layout) <= 480 for layout in correction.layouts), correction.id
    for cover in book.covers.values():
        assert 0 < cover.off <= cover.on, cover.id


def test_the_hidden_grease_points_lie_under_their_covers(book: Book) -> None:
    under = {cover.id: cover.under for cover in book.covers.values()}
    for id in ("grease-rear-joint", "grease-slip-spline"):
        needed = closure(book.service_points[id].covers_on("in-line"), under)
        assert set(needed) == {"floor-plate", "shaft-shield"}
    for point in book.service_points.values():
        assert point.severe_hours <= point.normal_hours, point.id


def test_a_drive_that_does_not_move_is_not_sent_on_a_run(book: Book) -> None:
    for check in book.checks.values():
        if check.where == "move":
            assert {"no-drive", "bang-no-drive"} <= set(check.unless), check.id


def test_files_stay_readable_and_say_where_figures_come_from() -> None:
    for path in FOLDER.glob("*.toml"):
        lines = path.read_text("utf-8").splitlines()
        assert len(lines) <= 400, path.name
        assert max(map(len, lines)) <= 220, path.name
        head = " ".join(lines[: next(place for place, line in enumerate(lines) if not line.startswith("#"))])
        if path.name != "cautions.toml":
            assert "common practice" in head.casefold(), path.name
            assert "no source" in head, path.name

"""`triage`: symptoms and answers in, ranked causes, next checks and the chart out, with and without a shop."""

from __future__ import annotations

import json
import math
import re

import pytest
from aids.json_shapes import TRIAGE, check, documented

from shopboard.places.triage_lines import triage_data
from shopboard.store import read_book
from shopboard.trouble import Evidence, next_checks, rank

BOOK = read_book(None)


def test_the_answer_as_text(at_once):
    done = at_once("triage", "weak only when hot", "--answer", "case-drain=high")
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0] == "weak only when hot   in-line"
    assert "case drain too high" in lines[1]
    ranking = rank(BOOK, "in-line", Evidence(("weak-when-hot",), (("case-drain", "high"),)))
    first = lines[lines.index("likely") + 1]
    assert first.startswith(ranking.causes[0].name) and f"{ranking.causes[0].probability:.0%}"[:-1] in first
    weight = ranking.causes[0].speaks_for[0]
    told = f"for: case drain too high ({weight.strength}, odds × {math.exp(weight.weight):.2g})"
    assert weight.weight > 0 and lines[lines.index("likely") + 2].strip().startswith(told)
    assert any(line.startswith("two faults at once") for line in lines)
    assert any(line.startswith("none of these") for line in lines)
    check = next_checks(BOOK, "in-line", Evidence(("weak-when-hot",), (("case-drain", "high"),)))[0]
    at = lines.index("next checks") + 1
    assert lines[at].startswith(f"{check.name}   {check.minutes:.0f} min, saves about")
    assert lines[-1] == "The maker's service manual, your lockout procedure and local rules come first."


def test_the_caution_of_a_check_comes_before_what_to_do(at_once):
    lines = [line.strip() for line in at_once("triage", "creep at neutral").out.splitlines()]
    shown = next_checks(BOOK, "in-line", Evidence(("creeps-in-neutral",)))
    assert any(one.cautions for one in shown)
    for one in shown:
        here = next(n for n, line in enumerate(lines) if line.startswith(f"{one.name}   "))
        how = next(n for n, line in enumerate(lines) if n > here and one.how.startswith(line) and line)
        for caution in one.cautions:
            told = next(n for n, line in enumerate(lines) if n > here and line.startswith(f"CAUTION  {caution[:30]}"))
            assert here < told < how


def test_an_answer_moves_the_ranking(at_once):
    before = json.loads(at_once("triage", "weak-when-hot", "--json").out)
    after = json.loads(at_once("triage", "weak-when-hot", "--answer", "case-drain=high", "--json").out)
    worn = [{c["id"]: c["probability"] for c in data["causes"]}["pump-worn"] for data in (before, after)]
    assert worn[1] > worn[0]
    assert "case-drain" not in [one["check"] for one in after["next"]]


def test_the_answer_as_json(at_once):
    arguments = ["triage", "weak-when-hot", "clunk", "--answer", "case-drain=high", "--answer", "oil-level=unsure"]
    done = at_once(*arguments, "--json")
    assert (done.code, done.err) == (0, "")
    data = json.loads(done.out)
    check(data, TRIAGE)
    documented(TRIAGE, triage_data)
    assert data["symptoms"] == ["weak-when-hot", "clunk"] and data["layout"] == "in-line"
    said = (("case-drain", "high"), ("oil-level", "unsure"))
    assert data["answers"] == [{"check": c, "outcome": o} for c, o in said]
    ranking = rank(BOOK, "in-line", Evidence(("weak-when-hot", "clunk"), said))
    assert [c["id"] for c in data["causes"]] == [c.id for c in ranking.causes]
    assert [c["probability"] for c in data["causes"]] == [c.probability for c in ranking.causes]
    whole = sum(c["probability"] for c in data["causes"]) + data["two_at_once"] + data["none_of_these"]
    assert whole == pytest.approx(1, abs=1e-9)
    for cause in data["causes"]:
        assert all(w["weight"] > 0 for w in cause["for"]) and all(w["weight"] < 0 for w in cause["against"])
    for one in data["next"]:
        assert set(one["outcomes"]) == set(BOOK.checks[one["check"]].outcomes)
        assert set(one["covers"]) <= set(BOOK.covers) and one["where"] in ("counter", "yard", "bay", "move")


def test_every_layout_is_served(at_once):
    for layout in ("in-line", "split", "transaxle", "gear"):
        symptom = next(id for id, one in BOOK.symptoms.items() if layout in one.layouts)
        data = json.loads(at_once("triage", symptom, "--layout", layout, "--json").out)
        assert data["layout"] == layout
        assert {c["id"] for c in data["causes"]} == {id for id, one in BOOK.causes.items() if layout in one.layouts}


def test_what_is_said_twice_counts_once(at_once):
    once = at_once("triage", "clunk", "--answer", "oil-level=low", "--json")
    twice = at_once("triage", "clunk", "clunk", "--answer", "oil-level=right", "--answer", "oil-level=low", "--json")
    assert once == twice


# -- the chart ------------------------------------------------------------------------------------------------------


def test_the_chart_is_the_tree_of_the_symptom(at_once):
    done = at_once("triage", "weak-when-hot", "--chart")
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0] == "weak only when hot   in-line"
    first = next_checks(BOOK, "in-line", Evidence(("weak-when-hot",)), at="counter")[0]
    root = next(line for line in lines if line.startswith("> "))
    assert root.startswith(f"> {first.name}  (")
    branches = [line for line in lines if re.match(r" {4}[-=] ", line)]
    assert [line.strip(" -=").rsplit("  ", 1)[0] for line in branches] == [
        outcome.name for outcome in BOOK.checks[first.check].outcomes.values()
    ]
    ends = ("mend: ", "go on: ", "stop: ")
    assert any(line.strip().startswith(ends) for line in lines)


def test_the_answers_light_a_path_of_the_chart(at_once):
    first = next_checks(BOOK, "in-line", Evidence(("weak-when-hot",)), at="counter")[0]
    outcome = list(BOOK.checks[first.check].outcomes.values())[-1]
    plain = at_once("triage", "weak-when-hot", "--chart").out
    lit = at_once("triage", "weak-when-hot", "--chart", "--answer", f"{first.check}={outcome.id}").out
    assert sum(line.lstrip().startswith("> ") for line in plain.splitlines()) == 1
    assert sum(line.lstrip().startswith("> ") for line in lit.splitlines()) >= 2
    (marked,) = [line for line in lit.splitlines() if line.startswith("    = ")]
    assert marked.startswith(f"    = {outcome.name}  ")


# -- a shop's own book and instruments ------------------------------------------------------------------------------


def test_the_book_of_the_shop_counts(shop, at_once):
    (shop / "book").mkdir(exist_ok=True)
    (shop / "book" / "own.toml").write_text(
        '[symptom.hums]\nname = "hums a tune"\nlayouts = ["in-line"]\nwords = ["hums", "sings"]\notherwise = "rarely"\n'
        '[cause.radio-on]\nname = "radio left on"\nlayouts = ["in-line"]\nweight = "common"\n'
        'shows = { hums = "almost always" }\ncorrection = ["top-up-oil"]\n',
        encoding="utf-8",
    )
    at_once("triage", "hums a tune").complained(2)
    assert at_once("triage", "hums a tune", "--shop", shop).err == ""
    data = json.loads(at_once("triage", "hums a tune", "--shop", shop, "--json").out)
    assert data["causes"][0]["id"] == "radio-on"


def test_checks_that_need_what_the_shop_does_not_own_are_left_out(shop, at_once):
    symptom, lost = _a_symptom_looked_at_with_an_instrument()
    text = (shop / "shop.toml").read_text("utf-8")
    for instruments, there in ((f'["{lost.tool}"]', True), ('["chalk"]', False)):
        (shop / "shop.toml").write_text(f"instruments = {instruments}\n{text}", encoding="utf-8")
        data = json.loads(at_once("triage", symptom, "--shop", shop, "--json").out)
        assert (lost.id in [one["check"] for one in data["next"]]) is there
        assert not there or lost.name in at_once("triage", symptom, "--shop", shop).out
    chart = at_once("triage", symptom, "--shop", shop, "--chart").out
    tools = {check.name for check in BOOK.checks.values() if check.tool and check.tool != "chalk"}
    assert not [name for name in tools if f"  {name}  (" in chart or f"go on: {name} (" in chart]


def _a_symptom_looked_at_with_an_instrument():
    for symptom in BOOK.symptoms:
        if "in-line" in BOOK.symptoms[symptom].layouts:
            for one in next_checks(BOOK, "in-line", Evidence((symptom,))):
                if one.tool:
                    return symptom, BOOK.checks[one.check]
    raise AssertionError("no check of the book needs an instrument")


# -- what is refused ------------------------------------------------------------------------------------------------

REFUSED = [
    (["slow on the hill"], "no symptom “slow on the hill”: did you mean "),
    (["weak when hot"], "no symptom “weak when hot”: did you mean weak only when hot"),
    (["wek drve"], "no symptom “wek drve”: did you mean weak drive?"),
    (["qqq"], "no symptom “qqq”: the book has weak drive, "),
    ([""], "no symptom “”: the book has weak drive, "),
    (["clunk", "--layout", "round"], "no layout round: there are in-line, split, transaxle, gear"),
    (["milky-oil", "--layout", "gear"], "milky or foaming oil does not occur in the layout gear"),
    (["clunk", "--answer", "no-such=yes"], "no check “no-such” in the book: write CHECK=OUTCOME with their ids"),
    (["clunk", "--answer", "oil-level"], "the check oil-level has no outcome “”: right, low, high or unsure"),
    (["clunk", "--answer", "oil-level=odd"], "the check oil-level has no outcome “odd”: right, low, high or unsure"),
    (["clunk", "--answer", "gearbox-leaks=dry"], "the check gearbox-leaks is not for the layout in-line"),
    ([], "the following arguments are required: SYMPTOM; `shopboard triage --help` shows what there is"),
    (["\x1b[31m[/b]\u202e"], "no symptom “␛[31m[/b]<U+202E>”"),
]


@pytest.mark.parametrize(("arguments", "told"), REFUSED, ids=[" ".join(a)[:30] or "nothing" for a, _ in REFUSED])
def test_what_cannot_be_is_refused_with_what_would_do(at_once, arguments, told):
    assert at_once("triage", *arguments).complained(2).startswith(told)


def test_a_shop_that_is_not_there_is_told_rather_than_passed_over(at_once, tmp_path):
    assert at_once("triage", "clunk", "--shop", tmp_path / "no").complained(3).startswith("there is no folder")

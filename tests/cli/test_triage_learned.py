"""`triage` on a shop: ranked by what its own closed jobs teach, unless the book alone is asked for."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from aids.desk import Desk
from aids.json_shapes import TRIAGE, check
from aids.mended import mended
from aids.shipped_book import shipped_book
from aids.shops import MORNING, Clock, make_shop

from shopboard.trouble import Evidence, rank

BOOK = shipped_book()
CAUSE = "cable-stretched"


@pytest.fixture(scope="module")
def taught(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop that mended six cables, all with the travel short, half a year ago, and one last week."""
    folder = tmp_path_factory.mktemp("taught") / "shop"
    clock = Clock(MORNING - timedelta(days=180))
    desk = Desk(make_shop(folder, clock), clock)
    for _ in range(6):
        mended(desk, BOOK, CAUSE, ("pedal-travel", "short"))
    mended(desk, BOOK, "pump-worn", model="split-1")
    clock.at = MORNING - timedelta(days=7)
    mended(desk, BOOK, "oil-low")
    desk.take_in("Lake Golf", "weak", "weak-drive")
    desk.store.close()
    return folder


def _chance(data: dict) -> float:
    return next(cause["probability"] for cause in data["causes"] if cause["id"] == CAUSE)


def test_the_shops_own_jobs_count_and_the_data_say_so(at_once, taught):
    data = json.loads(at_once("triage", "weak drive", "--shop", taught, "--json").out)
    alone = json.loads(at_once("triage", "weak drive", "--shop", taught, "--book-alone", "--json").out)
    shipped_ = json.loads(at_once("triage", "weak drive", "--json").out)
    check(data, TRIAGE)
    check(alone, TRIAGE)
    assert data["learned"] == {"jobs": 6, "elsewhere": 1} and alone["learned"] is None and alone == shipped_
    assert _chance(data) > 2 * _chance(alone)
    assert json.loads(at_once("triage", "weak drive", "--shop", taught, "--layout", "gear", "--json").out)[
        "learned"
    ] == {"jobs": 0, "elsewhere": 7}


def test_the_text_says_how_many_jobs_are_behind_it(at_once, taught):
    lines = at_once("triage", "weak drive", "--shop", taught).out.splitlines()
    assert "reckoned from the book and 6 closed jobs of this shop on this layout, 1 on others" in " ".join(lines)
    assert "reckoned from" not in at_once("triage", "weak drive", "--shop", taught, "--book-alone").out
    assert "reckoned from" not in at_once("triage", "weak drive").out


def test_a_shop_with_no_lesson_yet_says_so(at_once, shop):
    done = at_once("triage", "weak drive", "--shop", shop)
    assert done.err == "" and "no closed job of this shop teaches yet: this is the book alone" in done.out
    data = json.loads(at_once("triage", "weak drive", "--shop", shop, "--json").out)
    assert data["learned"] == {"jobs": 0, "elsewhere": 0}
    assert data["causes"] == json.loads(at_once("triage", "weak drive", "--json").out)["causes"]


def test_what_book_and_shop_say_of_a_cause(at_once, taught):
    name = BOOK.causes[CAUSE].name
    told = at_once("triage", "weak drive", "--shop", taught, "--says", name)
    assert told.err == "" and told.out.startswith(f"{name}, in-line\n")
    assert "6 of 6" in told.out and "likely" not in told.out
    data = json.loads(at_once("triage", "weak drive", "--shop", taught, "--says", CAUSE, "--json").out)
    check(data, TRIAGE)
    first, *signs = data["says"]
    assert (first["finding"], first["seen"], first["of"]) == (None, 6, 6) and first["now"] > first["book"]
    short = next(sign for sign in signs if sign["outcome"] == "short")
    assert (short["finding"], short["seen"], short["of"]) == ("pedal-travel", 6, 6) and short["now"] > short["book"]
    alone = at_once("triage", "weak drive", "--says", CAUSE)
    assert "no shop is named" in alone.out and "6 of 6" not in alone.out


def test_the_chart_goes_by_the_learned_book_too(at_once, taught):
    learned = at_once("triage", "weak drive", "--shop", taught, "--chart").out
    assert learned != at_once("triage", "weak drive", "--shop", taught, "--chart", "--book-alone").out
    assert BOOK.causes[CAUSE].name in learned


def test_the_printed_chart_and_the_estimate_go_by_it_as_well(at_once, taught):
    chart = at_once("paper", "chart", "weak drive", "--shop", taught).out
    assert chart != at_once("paper", "chart", "weak drive").out and BOOK.causes[CAUSE].name in chart
    told = at_once("paper", "chart", "weak drive", "--shop", taught, "--layout", "round").complained(2)
    assert told.startswith("there is no layout round")
    sheet = at_once("paper", "estimate", "T-0009", "--shop", taught).out
    ranking = rank(BOOK, "in-line", Evidence(("weak-drive",)))
    assert BOOK.causes[CAUSE].name not in [cause.name for cause in ranking.causes[:8]]
    assert BOOK.causes[CAUSE].name in sheet


def test_a_cause_that_is_none_is_refused_with_the_nearest(at_once):
    told = at_once("triage", "weak drive", "--says", "cabel stretched").complained(2)
    assert told.startswith("no cause “cabel stretched” on in-line: did you mean ") and CAUSE in told
    at_once("triage", "weak drive", "--layout", "gear", "--says", "pump-worn").complained(2)


def test_a_damaged_month_is_told_and_the_others_teach(at_once, taught, tmp_path):
    folder = shutil.copytree(taught, tmp_path / "shop")
    last = max((folder / "db").glob("closed-*.json"))
    last.write_bytes(b"{")
    done = at_once("triage", "weak drive", "--shop", folder, "--json")
    assert done.code == 0 and last.name in done.err and done.err.count("\n") == 1
    assert json.loads(done.out)["learned"] == {"jobs": 6, "elsewhere": 1}

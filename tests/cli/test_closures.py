"""`shopboard away`, `down`, `closed` and `back`: what is kept, what is listed, and what is refused in one line."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from aids.json_shapes import MOMENT, check, documented
from aids.shops import MORNING

from shopboard.places import plan_page
from shopboard.places.closure_lines import closures_data

SHAPE = {
    "at": MOMENT,
    "away": [{"person": str, "name": str, "start": MOMENT, "until": MOMENT, "why": (str, None)}],
    "down": [{"bay": str, "name": str, "start": MOMENT, "until": MOMENT, "why": (str, None)}],
    "closed": [{"start": MOMENT, "until": MOMENT, "why": (str, None)}],
    "days": [{"day": str, "why": str}],
}


GONE = "Bo is away until a moment that has gone by: name a later day or hour"
NO_DAY = "from: “25:00” is not a day; type fri, tomorrow, +3 or 2026-11-27"
NO_START = "from which day on is not said: name it first: `shopboard closed 2026-12-24 --until fri`"


@pytest.fixture
def say(shop, at_once):
    """Run a command on the shop; Cy, the owner, signs."""

    def run(*arguments: str, who: str = "cy"):
        return at_once(*arguments, "--shop", shop, "--as", who)

    return run


def test_somebody_is_ill_and_back(say):
    done = say("away", "bo", "--until", "fri", "--why", "ill")
    assert (done.code, done.err, done.out) == (0, "", "Bo is away until the end of Fri 27 Nov (ill).\n")
    assert say("away").out == "Bo until the end of Fri 27 Nov (ill)\n"
    assert say("down").out == "no bay is down, now or later\n"
    assert say("away", "bo", "--until", "2026-12-01").out == "Bo is away until the end of Tue 01 Dec (ill).\n"
    assert say("back", "Bo").out == "Bo is back.\n"
    assert say("away").out == "nobody is away, now or later\n"


def test_a_bay_is_down_by_the_hour(say):
    assert say("down", "Lift", "--until", "fri 14:00").out == "lift is down until Fri 27 Nov 14:00.\n"
    assert say("down", "2", "--from", "mon", "--until", "mon", who="ana").out == "clean is down on Mon 30 Nov.\n"
    assert say("down").out.splitlines() == ["lift until Fri 27 Nov 14:00", "clean on Mon 30 Nov"]
    assert say("back", "clean").out == "clean is not down on Mon 30 Nov after all.\n"


def test_the_shop_is_closed_and_its_closed_days_are_listed(shop, say):
    settings = (shop / "shop.toml").read_text("utf-8")
    (shop / "shop.toml").write_text(f'country = "DE"\nclosed_days = [2026-12-24]\n{settings}', encoding="utf-8")
    assert say("closed", "thu", "--why", "stocktaking").out == "The shop is closed on Thu 26 Nov (stocktaking).\n"
    assert say("closed", "fri 13:00").out == "The shop is closed from Fri 27 Nov 13:00 until the end of the day.\n"
    lines = say("closed").out.splitlines()
    assert lines[1:4] == [
        "the shop on Thu 26 Nov (stocktaking)",
        "the shop from Fri 27 Nov 13:00 until the end of the day",
        "Thu 24 Dec 2026: closed",
    ]
    assert lines[4].startswith("Fri 25 Dec 2026: ")  # Christmas Day is a holiday in all of Germany
    assert say("back", "shop").out == "The shop is not closed on Thu 26 Nov after all.\n"


def test_the_plan_and_the_glance_go_by_it_at_once(shop, say, at_once, monkeypatch):
    *most, _ = plan_page.look.__defaults__ or ()
    monkeypatch.setattr(plan_page.look, "__defaults__", (*most, 0.05))

    def of_ana() -> list[str]:
        steps = json.loads(at_once("plan", "--json", "--shop", shop).out)["steps"]
        return [step["start"] for step in steps if step["person"] == "ana" and step["start"] < "2026-11-28"]

    assert of_ana()
    say("away", "ana", "--until", "fri", "--why", "ill")
    say("closed", "mon", "--why", "stocktaking")
    assert not of_ana()
    told = at_once("plan", "--shop", shop).out
    assert "Ana: away until the end of Fri 27 Nov (ill)" in told and "closed Mon 30 Nov (stocktaking)" in told
    assert "Ana is away until the end of Fri 27 Nov (ill)" in at_once("glance", "--shop", shop).out


def test_json_is_all_of_it_in_just_the_shape_it_promises(say):
    say("away", "bo", "--until", "fri", "--why", "ill")
    say("closed", "2026-12-24")
    data = json.loads(say("down", "1", "--until", "tomorrow", "--json").out)
    check(data, SHAPE)
    documented(closures_data, SHAPE)
    assert data["away"][0]["person"] == "bo" and data["away"][0]["until"] == "2026-11-27T23:00:00Z"
    assert data["down"][0]["name"] == "lift" and data["down"][0]["start"] == "2026-11-24T10:42:00Z"
    assert data["closed"] == [{"start": "2026-12-23T23:00:00Z", "until": "2026-12-24T23:00:00Z", "why": None}]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("away", "zed", "--until", "fri"), "nobody called zed works here: here work ana, bo or cy"),
        (("away", "bo"), "until when is not said of bo: say --until fri, --until 'fri 14:00' or --until 2026-11-27"),
        (("away", "bo", "--until", "2026-11-20"), GONE),
        (("away", "bo", "--until", "11:00"), GONE),
        (("away", "bo", "--from", "fri", "--until", "thu"), "Bo is away until before it begins: name a later end"),
        (("away", "bo", "--until", "[soon]"), "until: “[soon]” is not a day; type fri, tomorrow, +3 or 2026-11-27"),
        (("away", "bo", "--until", "fri", "--from", "25:00"), NO_DAY),
        (("away", "bo", "--until", "2028-11-20"), "Bo is away for more than 400 days: change shop.toml instead"),
        (("away", "--until", "fri"), "who or what is not said: name it first: `shopboard away ana --until fri`"),
        (("down", "7", "--until", "fri"), "there is no bay 7 here: take 1, 2 or 3"),
        (("closed", "--until", "fri"), NO_START),
        (("closed", "2026-11-20"), "the shop is closed until a moment that has gone by: name a later day or hour"),
        (("back", "bo"), "Bo is not away now, and nothing is said for later: nothing is left to do"),
        (("back", "zed"), "there is no zed here: name a person or a bay of shop.toml, or shop"),
        (("back", "shop"), "the shop is not closed now, and nothing is said for later: nothing is left to do"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_line(say, arguments, told):
    assert say(*arguments).complained(2) == told


def test_days_that_overlap_are_one_line_and_keep_what_was_said(say):
    say("away", "bo", "--from", "thu", "--until", "fri", "--why", "a course")
    told = say("away", "bo", "--until", "fri").complained(2)
    assert told.startswith("Bo is away already from Thu 26 Nov until the end of Fri 27 Nov (a course): take that back")
    assert say("away").out == "Bo from Thu 26 Nov until the end of Fri 27 Nov (a course)\n"


def test_somebody_signs_who_may(shop, say, at_once):
    assert "every change is signed" in at_once("away", "bo", "--until", "fri", "--shop", shop).complained(2)
    assert "this is for the counter or the owner" in say("closed", "fri", who="bo").complained(2)
    assert at_once("away", "--shop", shop).code == 0  # looking needs no name


def test_what_is_over_is_listed_no_more(say, monkeypatch):
    say("down", "lift", "--until", "today")
    monkeypatch.setattr("shopboard.store.utc_now", lambda: MORNING + timedelta(days=1))
    assert say("down").out == "no bay is down, now or later\n"

"""What people decide over the plan: who is away, which bay is down, what is chosen, promised, rushed and taken up."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard.records import Stage
from shopboard.shop import choices, closures, dates, evidence, stages, take

LATER = START + timedelta(hours=5)


# -- away, down -------------------------------------------------------------------------------------------------------


def test_a_person_is_away_and_back() -> None:
    quick = QuickShop()
    told = quick.do(closures.away, "bo", LATER, why="ill")
    assert told.why == "Bo is away until Mon 02 Mar 15:00 (ill)."
    (kept,) = quick.state.closures.values()
    assert (kept.person, kept.bay, kept.start, kept.until) == ("bo", "", START, LATER)
    quick.do(closures.away, "bo", LATER + timedelta(days=1))
    (kept,) = quick.state.closures.values()
    assert kept.until == LATER + timedelta(days=1) and kept.why == "ill"
    quick.later(hours=1)
    assert quick.do(closures.end, person="bo").why == "Bo is back."
    assert quick.state.closures[1].until == quick.now
    quick.refuses(closures.end, why="Bo is not away now", person="bo")


def test_a_bay_is_down_and_in_use_again() -> None:
    quick = QuickShop()
    assert quick.do(closures.down, "2", LATER).why == "bay 2 is down until Mon 02 Mar 15:00."
    quick.refuses(take.take, quick.take_in().id, bay="2", why="bay 2 is down until Mon 02 Mar 15:00")
    quick.do(closures.end, bay="2")
    quick.do(take.take, 1, bay="2")
    assert quick.job().bay == "2"


def test_days_off_ahead() -> None:
    quick = QuickShop()
    step = quick.do(closures.away, "ana", LATER + timedelta(days=3), LATER + timedelta(days=2), "a course")
    assert step.why == "Ana is away from Wed 04 Mar 15:00 until Thu 05 Mar 15:00 (a course)."
    taken_back = quick.do(closures.end, person="ana")
    assert taken_back.why == "Ana is not away from Wed 04 Mar 15:00 until Thu 05 Mar 15:00 after all."
    quick.refuses(closures.end, why="Ana is not away now, and nothing is said for later", person="ana")
    quick.later(days=2, hours=7)
    assert quick.state.away("ana", quick.now) is None


def test_the_whole_shop_is_closed_and_open_again() -> None:
    quick = QuickShop()
    morning = datetime(2026, 3, 2, 23, tzinfo=UTC)  # midnight in Vienna
    told = quick.do(closures.closed, morning + timedelta(days=1), morning, "stocktaking")
    assert told.why == "The shop is closed on Tue 03 Mar (stocktaking)."
    (kept,) = quick.state.closures.values()
    assert kept.whole_shop and (kept.start, kept.until) == (morning, morning + timedelta(days=1))
    quick.later(days=1)
    assert quick.do(closures.end).why == "The shop is open again."
    quick.refuses(closures.end, why="the shop is not closed now")
    quick.refuses(closures.closed, morning, why="the shop is closed until a moment that has gone by")
    quick.refuses(closures.closed, morning + timedelta(days=9), by="bo", why="this is for the counter or the owner")


def test_days_that_overlap_are_refused_and_a_new_end_of_what_holds_is_not() -> None:
    quick = QuickShop()
    days = [START + timedelta(days=n) for n in range(8)]
    quick.do(closures.away, "bo", days[4], days[2], "a course")
    for start, until in (
        (None, days[3]),
        (days[1], days[5]),
        (days[3] - timedelta(days=2), days[2] + timedelta(hours=1)),
    ):
        quick.refuses(
            closures.away,
            "bo",
            until,
            start,
            why="Bo is away already from Wed 04 Mar 10:00 until Fri 06 Mar 10:00 (a course)",
        )
    quick.do(closures.away, "bo", days[2], days[1])  # it ends as the other begins
    quick.do(closures.away, "bo", days[5], days[3])  # within the course: a new end of it
    assert [(c.start, c.until) for c in quick.state.closures.values()] == [(days[2], days[5]), (days[1], days[2])]
    quick.do(closures.away, "ana", days[4], days[1])
    quick.do(closures.closed, days[4], days[1])
    quick.refuses(closures.closed, days[2], why="the shop is closed already from Tue 03 Mar 10:00")


@pytest.mark.parametrize(
    ("rule", "given", "why"),
    [
        (closures.away, ("zed", LATER), "nobody called zed works here"),
        (closures.away, ("", LATER), "nobody called (blank)"),
        (closures.away, ("bo", START), "has gone by"),
        (closures.away, ("bo", LATER, LATER + timedelta(hours=1)), "before it begins"),
        (closures.away, ("bo", START + timedelta(days=500)), "more than 400 days"),
        (closures.down, ("9", LATER), "there is no bay 9"),
        (closures.down, ("1", START - timedelta(days=1)), "has gone by"),
    ],
)
def test_what_cannot_be_away_or_down(rule, given, why) -> None:
    QuickShop().refuses(rule, *given, why=why)


# -- chosen -----------------------------------------------------------------------------------------------------------


def test_a_choice_is_kept_and_let_go() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    step = quick.do(choices.choose, 1, person="bo", bay="1", start=LATER, why="he knows it")
    assert step.why == "T-0001 is planned by Bo in bay 1 at Mon 02 Mar 15:00: he knows it."
    pin = quick.job().pin
    assert pin is not None and (pin.person, pin.bay, pin.start, pin.by) == ("bo", "1", LATER, "ana")
    quick.do(choices.let_go, 1)
    assert quick.job().pin is None
    quick.refuses(choices.let_go, 1, why="nobody chose anything")


@pytest.mark.parametrize(
    ("named", "why"),
    [
        ({}, "nothing is chosen"),
        ({"person": "zed"}, "nobody called zed"),
        ({"person": "cy"}, "Cy is not a technician"),
        ({"bay": "9"}, "there is no bay 9"),
        ({"start": START - timedelta(minutes=1)}, "has gone by"),
    ],
)
def test_what_cannot_be_chosen(named, why) -> None:
    quick = QuickShop()
    quick.take_in()
    quick.refuses(choices.choose, 1, why=why, **named)


def test_a_skill_nobody_chosen_has_and_a_bay_that_lacks() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.do(stages.diagnose, 1)
    fix = next(c for c in BOOK.corrections.values() if c.skill == "hydrostat" and c.needs)
    cause = next(c.id for c in BOOK.causes.values() if fix.id in c.correction)
    quick.do(evidence.find, 1, cause, "", fix.id, book=BOOK)
    quick.refuses(choices.choose, 1, person="bo", why="has not the skill hydrostat")
    quick.refuses(choices.choose, 1, bay="3", why="yard has no")


def test_not_this_one_keeps_who_and_why() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.do(choices.not_this, 1, "the key is not here", by="bo")
    (skipped,) = quick.job().not_this
    assert (skipped.by, skipped.at, skipped.why) == ("bo", START, "the key is not here")
    quick.refuses(choices.not_this, 1, "  ", why="reason")


# -- promised, rushed -------------------------------------------------------------------------------------------------


def test_a_date_is_promised_and_a_past_one_refused() -> None:
    quick = QuickShop()
    quick.take_in()
    assert quick.do(dates.promise, 1, LATER + timedelta(days=2), "Mrs Hill").why == (
        "T-0001 is promised for Wed 04 Mar, Mrs Hill told."
    )
    assert quick.job().promise == LATER + timedelta(days=2)
    quick.refuses(dates.promise, 1, START - timedelta(days=1), why="01 Mar 2026 has gone by")
    quick.do(dates.promise, 1, None)
    assert quick.job().promise is None


def test_work_waits_for_it_or_not() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.do(dates.rush, 1, True)
    assert quick.job().machine_down
    quick.refuses(dates.rush, 1, True, why="already")


# -- taken up ---------------------------------------------------------------------------------------------------------


def test_an_arrived_machine_goes_into_its_bay_and_is_being_diagnosed() -> None:
    quick = QuickShop()
    quick.take_in()
    step = quick.do(take.take, 1, bay="1", by="bo")
    job = quick.job()
    assert (job.stage, job.bay, job.bay_since, job.person) == (Stage.DIAGNOSED, "1", START, "bo")
    assert step.why == "T-0001: Bo takes the diagnosis up in bay 1."


def test_a_ready_job_is_in_repair_in_one_step() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    quick.do(take.take, 1, "ana", "2", by="dee")
    assert (quick.job().stage, quick.job().bay, quick.job().person) == (Stage.REPAIR, "2", "ana")
    quick.refuses(take.take, 1, "ana", why="in the hands of Ana already")
    quick.do(take.take, 1, "bo")
    assert quick.job().person == "bo"


def test_a_road_test_is_taken() -> None:
    quick = QuickShop()
    quick.to(Stage.ROAD_TEST)
    quick.do(take.take, 1, "bo")
    assert (quick.job().stage, quick.job().person) == (Stage.ROAD_TEST, "bo")


def test_what_cannot_be_taken_up() -> None:
    quick = QuickShop()
    first = quick.to(Stage.APPROVAL)
    quick.refuses(take.take, first, why="waiting for approval: nobody can work on it now")
    ready = quick.to(Stage.READY)
    quick.refuses(take.take, ready, "ana", why="in no bay")
    quick.do(take.take, quick.take_in().id, "bo", "1")
    quick.refuses(take.take, ready, "ana", "1", why="bay 1 holds T-0003")
    quick.refuses(take.take, ready, "cy", "2", why="Cy is not a technician")
    quick.do(closures.away, "ana", LATER)
    quick.refuses(take.take, ready, "ana", "2", why="Ana is away until")
    quick.refuses(take.take, ready, "ana", "2", by="cy", why="this is for the technician or the owner")

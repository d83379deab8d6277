"""What a re-plan changed, as sentences: what moved, by how much, because of what; the worst first."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import msgspec
import pytest
from aids.boards import open_board, screen_text
from aids.line_shop import job, shop_of
from aids.shops import SHOP, Clock, make_shop

from shopboard.places import seen_file
from shopboard.places.plan_changes import changes, moved_page
from shopboard.planning.calendar import shop_calendar
from shopboard.planning.tasks import JobAhead, Kind, Move, Placed, Plan, Problem, Task
from shopboard.records import Job, Person, Role, ShopState

BERLIN = ZoneInfo("Europe/Berlin")
#: Tuesday, 10:10 on the wall; the shop is open from 8 to 17, so that 36 slots are a day.
NOW = datetime(2026, 11, 24, 9, 10, tzinfo=UTC)
DAY = 36
PEOPLE = (
    Person(id="ana", name="Ana Lund", roles=(Role.TECHNICIAN,)),
    Person(id="bo", name="Bo Marsh", roles=(Role.TECHNICIAN,)),
)
REPAIR = Task(1, Kind.REPAIR, 4)


def shop(*jobs: Job) -> ShopState:
    state = shop_of(*jobs)
    state.settings = msgspec.structs.replace(state.settings, people=PEOPLE, zone="Europe/Berlin")
    return state


def placed(start: int, person: str = "ana", bay: str = "1", task: Task = REPAIR) -> Placed:
    return Placed(task, start, start + task.slots, person, bay)


def told(*moves: Move, state: ShopState | None = None, promise: int | None = None) -> list[str]:
    """The sentences of these moves, each of a job with one step."""
    state = state or shop(*(job(move.task.job) for move in moves))
    calendar = shop_calendar(state.settings, NOW)
    aheads = tuple(JobAhead(move.task.job, (move.task,), promise) for move in moves)
    late = {} if promise is None else {move.task.job: move.after.end - promise for move in moves}
    problem = Problem(aheads, state.settings.bays, PEOPLE, calendar, calendar.slot_at(NOW))
    plan = Plan(problem, tuple(move.after for move in moves), 0.0, late)
    return [*changes(state, plan, moves, NOW, BERLIN)]


def move(before: Placed | None, after: Placed, why: str = "because") -> Move:
    return Move(after.task, before, after, why)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (placed(12), placed(18), "1 h 30 later, 12:30 Ana (was 11:00)"),
        (placed(18), placed(12), "1 h 30 sooner, 11:00 Ana (was 12:30)"),
        (placed(12), placed(16), "1 h later, 12:00 Ana (was 11:00)"),
        (placed(12), placed(14, "bo"), "30 min later, 11:30 Bo (was 11:00 Ana)"),
        (placed(12), placed(DAY), "1 working day later, Wed 08:00 Ana (was 11:00)"),
        (placed(2 * DAY), placed(12), "2 working days sooner, 11:00 Ana (was Thu 08:00)"),
        (placed(3 * DAY), placed(4 * DAY), "1 working day later, Mon 08:00 Ana (was Fri 08:00)"),
        (placed(12), placed(DAY, "bo", "2"), "1 working day later, Wed 08:00 Bo in yard (was 11:00 Ana in lift)"),
        (placed(12), placed(12, "bo"), "goes to Bo instead of Ana, 11:00 as before"),
        (placed(12), placed(12, "ana", "2"), "goes into yard instead of lift, 11:00 as before"),
        (placed(12), placed(12, "bo", "2"), "goes to Bo in yard instead of Ana in lift, 11:00 as before"),
        (placed(4), placed(8), "1 h later, now Ana (was 09:00)"),  # it was to be begun an hour ago
        (placed(9 * DAY), placed(9 * DAY + 8), "2 h later, 7 Dec 10:00 Ana (was 08:00)"),
        (placed(2), placed(9 * DAY), "9 working days later, 7 Dec Ana (was 08:30)"),
    ],
)
def test_what_moved_by_how_much_and_why(before: Placed, after: Placed, words: str) -> None:
    assert told(move(before, after)) == [f"T-0001 repair {words}: because"]


def test_what_hardly_moved_is_not_told() -> None:
    assert told(move(placed(12), placed(15))) == []


def test_when_it_starts_is_not_said_twice() -> None:
    why = "seal kit due Thu: not before Thu 26 Nov 12:00"
    assert told(move(placed(12), placed(2 * DAY + 16), why)) == [
        "T-0001 repair 2 working days later, Thu 12:00 Ana (was 11:00): seal kit due Thu"
    ]
    assert told(move(placed(12), placed(2 * DAY + 18), why))[0].endswith(why)


def test_a_promise_that_is_lost_is_said_and_stands_first() -> None:
    two = Task(2, Kind.REPAIR, 4)
    state = shop(job(1), job(2, promise=datetime(2026, 11, 24, 16, tzinfo=UTC)))
    calendar = shop_calendar(state.settings, NOW)
    moves = [move(placed(12), placed(3 * DAY)), move(placed(20, task=two), placed(34, task=two))]
    aheads = (JobAhead(1, (REPAIR,)), JobAhead(2, (two,), promise=36))
    plan = Plan(Problem(aheads, state.settings.bays, PEOPLE, calendar), (moves[0].after, moves[1].after), 0.0)
    first, second = changes(state, plan, moves, NOW, BERLIN)
    assert first == "T-0002 repair 3 h 30 later, 16:30 Ana (was 13:00): because; too late now for its promise today"
    assert second.startswith("T-0001 repair 3 working days later") and "promise" not in second


def test_a_job_that_came_in_is_told_with_its_place() -> None:
    task = Task(1, Kind.DIAGNOSE, 4)
    state = shop(job(1, machine_down=True, promise=datetime(2026, 11, 24, 12, tzinfo=UTC)))
    said = told(move(None, placed(20, task=task)), state=state, promise=20)
    assert said == [
        "T-0001 came in, work waits for it: diagnosis 13:00 Ana in lift, done 14:00; too late for its promise today"
    ]
    assert told(move(None, placed(20, task=task))) == ["T-0001 came in: diagnosis 13:00 Ana in lift, done 14:00"]


def test_of_a_job_the_first_step_that_moved_is_told() -> None:
    test = Task(1, Kind.ROAD_TEST, 1, capabilities=None)
    state = shop(job(1))
    problem = Problem((JobAhead(1, (REPAIR, test)),), state.settings.bays, PEOPLE, shop_calendar(state.settings, NOW))
    moves = [move(placed(16, "ana", "", test), placed(40, "ana", "", test)), move(placed(12), placed(36))]
    plan = Plan(problem, (moves[1].after, moves[0].after), 0.0)
    (said,) = changes(state, plan, moves, NOW, BERLIN)
    assert said.startswith("T-0001 repair 1 working day later")


def test_the_page_of_all_that_moved() -> None:
    assert [row.text for row in moved_page(None, BERLIN)(80)] == [
        "The plan has moved nothing since this board was opened."
    ]
    rows = [row.text for row in moved_page((NOW, ("one [/b] thing", "x " * 60)), BERLIN)(40)]
    assert rows[:4] == ["Tue 24 Nov 10:10", "", "one [/b] thing", ""] and max(map(len, rows)) <= 40 and len(rows) > 5


# -- the public holidays of the last plan ------------------------------------------------------------------------------


@pytest.mark.parametrize(("where", "said"), [("DE", True), ("AT", False)])
async def test_the_first_screen_knows_the_holidays_of_the_last_plan_of_this_country(tmp_path, where, said) -> None:
    folder, clock = tmp_path / "shop", Clock()
    make_shop(folder, clock).close()
    (folder / "shop.toml").write_text(f'country = "DE"\n{SHOP}', encoding="utf-8")
    kept = seen_file.Seen(1, clock(), (), where=where, holidays={date(2026, 11, 25): "Founders' Day"})
    seen_file.write(folder, kept)
    async with open_board(folder, clock=clock) as pilot:
        assert pilot.app.planned is None
        assert ("closed Wed 25 Nov (Founders' Day)" in screen_text(pilot.app)) is said

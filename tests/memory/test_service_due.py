"""What falls due and when: by hand, odd machines, covers, and whether the dates hold."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import msgspec
import numpy as np
import pytest
from aids.lives import DAY, day, machine

from shopboard.memory import Done, calls, fleet, marginal, points_of, service_due, use_of
from shopboard.memory.use import BETWEEN, WITHIN, Use, spans
from shopboard.records import Duty, HourReading, Layout, Machine, Model, ServicePoint

JOINT = ServicePoint(id="joint", name="rear joint: grease", normal_hours=50, severe_hours=20, covers=("plate",))
OIL = ServicePoint(id="oil", name="drive oil", normal_hours=400, severe_hours=200, months=12)
POINTS = {"m": (OIL, JOINT)}


def _steady(id: int, per_week: float, weeks: int = 20, start: float = 0.0) -> Machine:
    return machine(id, *((7.0 * w, start + per_week * w) for w in range(weeks + 1)))


def test_a_steady_machine_is_due_where_its_line_crosses() -> None:
    one = _steady(1, 10)  # read last at 200 h on day 140
    (due,), silent, *_ = service_due([one], {"m": (JOINT,)}, [Done(1, "joint", day(126), 180.0)], day(140).date())
    assert due.due_age == 230 and not due.overdue and due.noted and due.hidden
    assert due.day is not None and due.low is not None and due.high is not None
    assert abs((due.day - day(161).date()).days) <= 2, "30 h at 10 h a week: three weeks on"
    assert due.low < due.day < due.high
    assert silent == ()


def test_severe_use_shortens_the_interval() -> None:
    hard = msgspec.structs.replace(_steady(1, 10), duty=Duty.SEVERE)
    (due,), *_ = service_due([hard], {"m": (JOINT,)}, [Done(1, "joint", day(140), 200.0)], day(140).date())
    assert due.due_age == 220


def test_months_come_first_where_they_are_earlier() -> None:
    lazy = _steady(1, 1)
    (due,), *_ = service_due([lazy], {"m": (OIL,)}, [Done(1, "oil", DAY, 0.0)], date(2026, 12, 20))
    assert (due.by, due.day, due.low, due.high) == ("months", date(2027, 1, 1), date(2027, 1, 1), date(2027, 1, 1))
    assert due.said == "drive oil: due on 01 Jan 2027 by the calendar"


def test_hidden_points_come_first_and_what_was_never_noted_says_so() -> None:
    dues, *_ = service_due([_steady(1, 10), _steady(2, 30)], POINTS, [], day(140).date())
    assert [(due.machine, due.point) for due in dues] == [(1, "joint"), (2, "joint"), (2, "oil")]
    assert dues[0].said == "rear joint: grease: overdue by 150 h, never noted as done here"


def test_points_never_noted_are_counted_where_only_noted_ones_are_listed() -> None:
    done = [Done(1, "joint", day(100), 100.0)]
    service = service_due([_steady(1, 10), _steady(2, 30)], POINTS, done, day(140).date(), noted_only=True)
    assert [(due.machine, due.point) for due in service.dues] == [(1, "joint")]
    assert service.never_noted == (2, 1, 1)


def test_a_machine_that_says_nothing_gets_a_sentence() -> None:
    backwards = machine(2, (0, 900), (9, 890))
    dues, silent, *_ = service_due([machine(1), backwards], POINTS, [], day(20).date())
    assert dues == ()
    assert silent == (
        "machine 1: its meter was never read",
        "machine 2: its meter shows 890 h after 900 h and no new meter was noted",
    )


def test_one_reading_and_no_fellows_tell_no_date_but_the_hours() -> None:
    dues, *_ = service_due([machine(1, (0, 40))], {"m": (JOINT,)}, [Done(1, "joint", day(0), 40.0)], day(1).date())
    assert dues == ()
    dues, *_ = service_due([machine(1, (0, 95))], {"m": (JOINT,)}, [Done(1, "joint", day(0), 40.0)], day(1).date())
    assert dues[0].overdue and dues[0].day == day(1).date()


def test_the_model_s_own_points_come_before_the_shop_s() -> None:
    bare = Model(id="m", name="M", layout=Layout.SPLIT)
    assert points_of(bare, [OIL]) == (OIL,)
    assert points_of(msgspec.structs.replace(bare, service_points=(JOINT,)), [OIL]) == (JOINT,)
    assert points_of(None) == ()


def test_one_call_a_customer() -> None:
    machines = [_steady(1, 10), msgspec.structs.replace(_steady(2, 30), customer=2), _steady(3, 30)]
    dues, *_ = service_due(machines, POINTS, [], day(140).date())
    first, second = calls(dues, {1: "Hill"}, day(140).date())
    assert first.said == "Hill: 3 points due on 2 machines, 3 of them overdue, 2 behind covers"
    assert second.said == "customer 2: 2 points due on 1 machine, 2 of them overdue, 1 behind covers"


def test_a_hidden_point_is_cheap_while_its_cover_is_off() -> None:
    covers = {"plate": SimpleNamespace(off=8, on=10, under=("mat",)), "mat": SimpleNamespace(off=1, on=1, under=())}
    dues, *_ = service_due([_steady(2, 30)], POINTS, [], day(140).date())
    first, second = marginal(dues, covers, ["plate", "mat"])
    assert (first.due.point, first.adds, first.alone) == ("joint", 5.0, 25.0)
    assert first.said == "rear joint: grease: 5 min more now, 25 min on its own"
    assert (second.due.point, second.adds, second.alone) == ("oil", 5.0, 5.0)
    assert [one.due.point for one in marginal(dues, {}, [])] == ["oil"], "a cover that is not known is left out"


# -- use ------------------------------------------------------------------------------------------------------------


def test_spans_leave_out_what_cannot_be() -> None:
    assert [s.hours for s in spans(machine(1, (0, 100), (7, 110), (14, 5), (21, 25)))] == [10, 20]
    assert [s.hours for s in spans(machine(1, (0, 100), (7, 110), (14, 5, True), (21, 25)))] == [10, 5, 20]
    assert spans(machine(1, (0, 0), (7, 169))) == ()
    assert spans(machine(1, (0, 100))) == () == spans(machine(1))
    assert [(s.hours, s.weeks) for s in spans(machine(1, (0, 0), (1, 3), (7, 10)))] == [(10, 1.0)], "too close together"


def test_a_machine_read_once_runs_as_its_fellows_do() -> None:
    known = fleet([_steady(id, 10) for id in range(1, 9)])
    use = use_of(machine(9, (0, 500)), known)
    assert use is not None and use.figure.value == pytest.approx(10, rel=1e-6)
    assert "as machines here usually do" in use.figure.said
    own = use_of(_steady(1, 30, weeks=200), known)
    assert own is not None and own.figure.value == pytest.approx(30, rel=0.1)
    assert fleet([]).use is None and use_of(machine(1), fleet([])) is None
    assert fleet([_steady(1, 10)]).between == BETWEEN


def test_nothing_left_to_run_is_due_now() -> None:
    assert Use(0.0, 0.1, 5).weeks_to(0, WITHIN) == (0.0, 0.0, 0.0)


def _fleet_of(rng: np.random.Generator, machines: int = 40) -> tuple[list[Machine], np.ndarray]:
    """Machines whose weekly hours scatter (gamma, variance 1.5 of the mean squared) about log-normal means, read one to
    six times in a year, and their cumulated hours by week for four years."""
    means = rng.lognormal(np.log(6), 0.6, machines)
    weekly = np.minimum(rng.gamma(1 / 1.5, means[:, None] * 1.5, (machines, 208)), 160)
    ran = np.concatenate([np.zeros((machines, 1)), weekly.cumsum(axis=1)], axis=1)
    made = []
    for id in range(machines):
        weeks = np.sort(rng.choice(52, int(rng.integers(1, 7)), replace=False))
        readings = tuple(HourReading(at=DAY + timedelta(weeks=int(w)), hours=float(ran[id, w])) for w in weeks)
        made.append(Machine(id=id, customer=1, model="m", layout=Layout.SPLIT, readings=readings))
    return made, ran


def test_the_day_something_is_due_lies_in_its_band_nine_times_in_ten() -> None:
    held, of = 0, 0
    for seed in range(12):
        made, ran = _fleet_of(np.random.default_rng(seed))
        known = fleet(made)
        for id, one in enumerate(made):
            use = use_of(one, known)
            assert use is not None
            week = round((one.readings[-1].at - DAY) / timedelta(weeks=1))
            _, low, high = use.weeks_to(50.0, known.within)
            true = np.searchsorted(ran[id], ran[id, week] + 50.0) - week
            held += low - 1 <= true <= high + 1
            of += 1
    assert 0.86 <= held / of <= 0.97, held / of

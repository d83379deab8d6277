"""The shop run through many futures at once: whenever somebody is free, they take the most urgent job they can.

In every future, each decision is made anew from that future's own clock: who is free first takes, among the jobs that
are ready, that they know how to do and for which a bay is there, the one with the highest apparent tardiness cost, log
form: ln(w/p) − max(0, due − p − t)/(k·p̄), k = 2 (Vepsalainen & Morton, Management Science 33 (1987) 1035-1047). All
futures step together in numpy; a step is one decision in each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .draws import Array, Draws, Moments
from .tasks import Calendar

#: Look-ahead of the urgency, in mean steps.
LOOK_AHEAD = 2.0
#: What is under way or chosen to start now goes before everything.
_FIRST = 1e4


@dataclass
class Axis:
    """Calendars as arrays: for each person the free slots before a slot (`before`), the slot after their n-th (`nth`)
    and the first free one from a slot on (`from_`); for each bay the first slot from a slot on at which it is open."""

    before: Array
    nth: Array
    from_: Array
    bay_from: Array
    end: int
    moments: Moments


def axis_of(calendar: Calendar, people: list[str], bays: list[str]) -> Axis:
    """The arrays of a calendar for these people and bays, in this order."""
    import numpy as np

    end = calendar.end
    free = np.array([_bits(calendar.people.get(p, 0), end) for p in people], bool).reshape(len(people), end)
    opened = np.array([_bits(calendar.bays.get(b, 0), end) for b in bays], bool).reshape(len(bays), end)
    before = np.zeros((len(people), end + 2), np.int32)
    before[:, 1 : end + 1] = np.cumsum(free, axis=1)
    before[:, end + 1] = before[:, end]
    nth = np.full((len(people), end + 2), end + 1, np.int32)  # past the axis: never
    for row, mine in enumerate(free):
        slots = np.flatnonzero(mine)
        nth[row, 1 : len(slots) + 1] = slots + 1
    return Axis(before, nth, _next(free, end), _next(opened, end), end, Moments(calendar))


def _bits(mask: int, end: int) -> list[bool]:
    return [char == "1" for char in reversed(f"{mask & ((1 << end) - 1):0{max(end, 1)}b}")][:end]


def _next(open_: Array, end: int) -> Array:
    """The first open slot from each slot on; `end` + 1 where there is none."""
    import numpy as np

    found = np.full((open_.shape[0], end + 2), end + 1, np.int32)
    for slot in range(end - 1, -1, -1):
        found[:, slot] = np.where(open_[:, slot], slot, found[:, slot + 1])
    return found


@dataclass
class _Run:
    """Where all futures stand: by draw and person the slot they are free, by draw and bay likewise; by draw and job its
    step, when that is ready, who and where; when it was done (the end of the axis + 1: never)."""

    draws: Draws
    axis: Axis
    free: Array
    idle: Array
    bay_free: Array
    step: Array
    ready: Array
    people: Array
    bays: Array
    urgency: Array
    slack: Array
    done: Array


def finishes(draws: Draws, axis: Axis) -> Array:
    """The slot by which each job is done, by draw and job; the end of the axis + 1 where it is not done on it."""
    import numpy as np

    run = _start(draws, axis)
    rows = np.arange(draws.many)
    pace = LOOK_AHEAD * max(1.0, float(draws.mean[draws.mean > 0].mean()) if (draws.mean > 0).any() else 1.0)
    n_bays = axis.bay_from.shape[0]
    bits = np.left_shift(1, np.arange(n_bays + 1)).astype(np.int32)
    never = axis.end + 1
    while run.free.size:
        person = run.free.argmin(axis=1)
        clock = run.free[rows, person]
        if not (clock < never).any():
            break
        at = np.minimum(clock, never)
        opens = _bays_from(run, at)
        there = (opens <= at[:, None]) @ bits[:-1] | bits[-1]
        able = (run.people >> person[:, None]) & 1 > 0
        here = able & (run.ready <= at[:, None])
        fits = here & ((run.bays & there[:, None]) != 0)
        key = np.where(fits, run.urgency - np.maximum(run.slack - at[:, None], 0) / pace, -np.inf)
        job = key.argmax(axis=1)
        takes = fits[rows, job] & (clock < never)
        _take(run, rows[takes], person[takes], job[takes], at[takes], opens[takes])
        rests = ~takes & (clock < never)
        _rest(run, rows[rests], person[rests], at[rests], able[rests], here[rests], opens[rests])
    return run.done


def _start(draws: Draws, axis: Axis) -> _Run:
    import numpy as np

    never = axis.end + 1
    many, jobs = draws.many, len(draws.ids)
    free = np.repeat(axis.from_[:, min(draws.now, never)][None, :], many, axis=0)
    bay_free = np.full((many, axis.bay_from.shape[0]), draws.now, np.int32)
    for bay in draws.held[draws.held >= 0]:
        bay_free[:, bay] = never
    rest = np.maximum(draws.mean.sum(axis=1), 1.0)
    return _Run(
        draws=draws,
        axis=axis,
        free=free,
        idle=np.zeros(free.shape, bool),
        bay_free=bay_free,
        step=np.zeros((many, jobs), np.int32),
        ready=draws.ready[:, :, 0].copy() if jobs else np.zeros((many, 0), np.int32),
        people=draws.people[:, :, 0].copy() if jobs else np.zeros((many, 0), np.int32),
        bays=draws.bays[:, :, 0].copy() if jobs else np.zeros((many, 0), np.int32),
        urgency=np.repeat((np.log(draws.weight / rest) + _FIRST * draws.first)[None, :], many, axis=0),
        slack=np.repeat((draws.due - rest)[None, :], many, axis=0),
        done=np.full((many, jobs), never, np.int32),
    )


def _bays_from(run: _Run, at: Array) -> Array:
    """The first slot from `at` on at which each bay is free and open, by draw."""
    import numpy as np

    return run.axis.bay_from[np.arange(run.bay_free.shape[1]), np.maximum(run.bay_free, at[:, None])]


def _take(run: _Run, rows: Array, person: Array, job: Array, at: Array, opens: Array) -> None:
    """In these draws this person begins this job's step at this slot."""
    import numpy as np

    if not len(rows):
        return
    draws, axis = run.draws, run.axis
    step = run.step[rows, job]
    exact = draws.slots[rows, job, step] * draws.factor[rows, person]
    slots = np.maximum(np.floor(exact + 0.5), 1).astype(np.int32)
    last = np.minimum(axis.before[person, at] + slots, axis.nth.shape[1] - 1)
    end = axis.nth[person, last]
    run.free[rows, person] = axis.from_[person, end]
    run.idle[rows, person] = False
    bay = _which_bay(run, rows, job, at, opens)
    into = bay >= 0
    # A bay that was kept until now: those who sit idle may have waited for it
    let_go = into & (run.bay_free[rows, bay] > axis.end)
    run.bay_free[rows[into], bay[into]] = end[into]
    _wake(run, rows[let_go], end[let_go], np.full(let_go.sum(), -1, np.int32))
    _on(run, rows, job, step, end)


def _which_bay(run: _Run, rows: Array, job: Array, at: Array, opens: Array) -> Array:
    """The bay taken: the machine's own if it kept one, else the free one that fits and is last in the shop's list of
    those that offer least; -1 for none."""
    import numpy as np

    mask = run.bays[rows, job]
    n_bays = opens.shape[1]
    fit = (opens <= at[:, None]) & ((mask[:, None] >> np.arange(n_bays)) & 1 > 0)
    found = np.where(fit.any(axis=1), fit.argmax(axis=1), -1)
    held = np.where(run.step[rows, job] == 0, run.draws.held[job], -1)
    return np.where(held >= 0, held, found)


def _on(run: _Run, rows: Array, job: Array, step: Array, end: Array) -> None:
    """The jobs of these draws go on to their next step, or are done."""
    import numpy as np

    draws, never = run.draws, run.axis.end + 1
    nxt = step + 1
    more = (nxt < draws.slots.shape[2]) & (draws.slots[rows, job, np.minimum(nxt, draws.slots.shape[2] - 1)] > 0)
    over = ~more
    run.done[rows[over], job[over]] = end[over]
    run.ready[rows[over], job[over]] = never
    run.people[rows[over], job[over]] = 0
    rows, job, nxt, end = rows[more], job[more], nxt[more], end[more]
    if not len(rows):
        return
    ready = run.axis.moments.after(end, draws.lag[rows, job, nxt])
    ready = np.minimum(run.axis.moments.later(ready, draws.then[rows, job, nxt]), never)
    ready = np.maximum(ready, draws.ready[rows, job, nxt])
    rest = np.maximum(_rest_of(draws)[job, nxt], 1.0)
    run.step[rows, job] = nxt
    run.ready[rows, job] = ready
    run.people[rows, job] = draws.people[rows, job, nxt]
    run.bays[rows, job] = draws.bays[rows, job, nxt]
    run.urgency[rows, job] = np.log(draws.weight[job] / rest)
    run.slack[rows, job] = draws.due[job] - rest
    _wake(run, rows, ready, draws.people[rows, job, nxt])


def _rest_of(draws: Draws) -> Any:
    """Mean slots of a step and all after it, by job and step."""
    return draws.mean[:, ::-1].cumsum(axis=1)[:, ::-1]


def _wake(run: _Run, rows: Array, ready: Array, people: Array) -> None:
    """Those who sit idle and can do the step look again when it is ready."""
    import numpy as np

    n_people = run.free.shape[1]
    can = (people[:, None] >> np.arange(n_people)) & 1 > 0
    again = run.axis.from_[np.arange(n_people), np.minimum(ready, run.axis.end + 1)[:, None]]
    sooner = run.idle[rows] & can & (again < run.free[rows])
    run.free[rows] = np.where(sooner, again, run.free[rows])


def _rest(run: _Run, rows: Array, person: Array, at: Array, able: Array, here: Array, opens: Array) -> None:
    """In these draws this person finds nothing to do now, and looks again when a job or a bay will be there."""
    import numpy as np

    if not len(rows):
        return
    never = run.axis.end + 1
    ready = run.ready[rows]
    soon = np.where(able & (ready > at[:, None]), ready, never).min(axis=1, initial=never)
    bay = np.where(opens > at[:, None], opens, never).min(axis=1, initial=never)
    soon = np.where(here.any(axis=1), np.minimum(soon, bay), soon)
    run.free[rows, person] = run.axis.from_[person, np.minimum(np.maximum(soon, at + 1), never)]
    run.idle[rows, person] = True

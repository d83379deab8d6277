"""Cells kept up to date machine by machine stand as if everything had been counted anew."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from aids.lives import job, machine

from shopboard.memory import Past, Record, Standing, past_of
from shopboard.memory.standing import STALE
from shopboard.records import ClosedJob, Machine

CAUSES = ("seal", "belt", "pump")


def _drawn(rng: np.random.Generator, id: int) -> tuple[Machine, list[ClosedJob]]:
    """A machine of one of four models and what failed on it."""
    to = float(rng.integers(50, 2500))
    one = msgspec.structs.replace(machine(id, (0, 0), (1000, to)), model=f"m{rng.integers(4)}")
    ages = np.sort(rng.random(int(rng.integers(0, 5)))) * to
    return one, [job(id * 10 + n, id, 1000 * a / to, str(rng.choice(CAUSES)), float(a)) for n, a in enumerate(ages)]


def _pasts(rng: np.random.Generator, ids: range) -> dict[int, Past]:
    return {id: past_of(*_drawn(rng, id)) for id in ids}


def _same(kept: Record, anew: Record) -> None:
    assert kept.machines == anew.machines
    cells = {(cell.component, cell.model): cell for cell in kept.cells}
    assert cells.keys() == {(cell.component, cell.model) for cell in anew.cells}
    for cell in anew.cells:
        own = cells[cell.component, cell.model]
        assert (own.own_failed, own.others_failed, own.hit) == (cell.own_failed, cell.others_failed, cell.hit)
        assert own.own == pytest.approx(cell.own, rel=2 * STALE, abs=1)
        assert own.others == pytest.approx(cell.others, rel=2 * STALE, abs=1)
    words = {(c.component, c.model): w for c, w in zip(kept.cells, kept.words, strict=True)}
    assert words == {(c.component, c.model): w for c, w in zip(anew.cells, anew.words, strict=True)}


@pytest.mark.parametrize("seed", range(8))
def test_a_machine_renewed_at_a_time_is_as_good_as_counting_anew(seed: int) -> None:
    """Machines change, come, go, and come back of a model never seen before; looked at now and then between."""
    rng = np.random.default_rng(seed)
    pasts = _pasts(rng, range(1, 80))
    kept = Standing(pasts)
    kept.record()
    for turn in range(40):
        id = int(rng.integers(1, 90))
        past: Past | None = past_of(*_drawn(rng, id))
        if turn % 7 == 0:
            past = None
        if turn == 30:
            one, jobs = _drawn(rng, id)
            past = past_of(msgspec.structs.replace(one, model="never-seen"), jobs)
        kept.renew(id, past)
        pasts.pop(id, None)
        if past is not None:
            pasts[id] = past
        if turn % 5 == 0:
            kept.record()
    _same(kept.record(), Standing(pasts).record())


def test_hours_that_grow_little_by_little_are_not_lost() -> None:
    """Each reading adds less than a cell is tested anew for; a thousand of them do not."""
    rng = np.random.default_rng(3)
    pasts = _pasts(rng, range(1, 60))
    kept = Standing(pasts)
    kept.record()
    one, jobs = _drawn(rng, 5)
    to = one.readings[-1].hours
    for step in range(1, 300):
        grown = msgspec.structs.replace(one.readings[-1], hours=to + step)
        pasts[5] = past_of(msgspec.structs.replace(one, readings=(one.readings[0], grown)), jobs)
        kept.renew(5, pasts[5])
        kept.record()
    _same(kept.record(), Standing(pasts).record())

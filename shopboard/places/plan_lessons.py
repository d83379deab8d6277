"""What closed jobs teach the plan: how long work takes here, how long a yes and parts take to come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopboard import memory
from shopboard.planning.durations import Took, paces, took_of
from shopboard.planning.problem import Known
from shopboard.planning.waiting import Waiting, answers_of, lateness_of
from shopboard.records import PartLine

if TYPE_CHECKING:
    from .knowledge import Material

#: A repair waited for a part if one came so many days after it was ordered.
A_WAIT = 0.5


def known(material: Material) -> Known:
    """Paces and waits from all closed jobs, and from the waits of those open."""
    kept: dict[int, tuple[Took, ...]] = material.kept.setdefault("plan", {})
    for id in material.fresh:
        whole = material.closed.get(id)
        if whole is None:
            kept.pop(id, None)
        else:
            kept[id] = took_of(whole[0], material.book)
    jobs = [job for job, _ in material.closed.values()]
    lines = [line for _, theirs in material.closed.values() for line in theirs]
    orders = memory.orders_of([*lines, *material.state.parts.values()])
    waiting = Waiting(
        answers=answers_of([*jobs, *material.state.jobs.values()], material.now),
        lateness=lateness_of([*lines, *material.state.parts.values()], material.now),
        leads=memory.lead_times(orders, material.now),
        with_parts=sum(any(map(_waited, theirs)) for _, theirs in material.closed.values()),
        repairs=len(jobs),
    )
    return Known(paces(one for took in kept.values() for one in took), waiting)


def _waited(line: PartLine) -> bool:
    if line.ordered_at is None or line.received_at is None:
        return False
    return (line.received_at - line.ordered_at).total_seconds() > A_WAIT * 86400

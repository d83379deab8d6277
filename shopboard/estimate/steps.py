"""Work laid out step by step: covers off once, the work, a road test with its covers on, covers back.

A cover goes back only when everything beneath it is back, so that nothing stays off unseen. It stays off for as long
as the next work may need it: no order of steps takes less.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from .covers import Graph


@dataclass(frozen=True)
class Work:
    """Something to do: its own minutes on the clock, the covers (or places) it needs off, and how many people."""

    id: str
    name: str
    minutes: float
    covers: tuple[str, ...] = ()
    people: int = 1

    @property
    def billed(self) -> float:
        """Its own minutes times the people."""
        return self.minutes * self.people


@dataclass(frozen=True)
class RoadTest:
    """A road test between or after the work: `on` are the covers that must be on for it (None: every one)."""

    id: str
    name: str
    minutes: float
    on: tuple[str, ...] | None = None
    people: int = 1

    @property
    def billed(self) -> float:
        """Its own minutes times the people."""
        return self.minutes * self.people


Todo = Work | RoadTest


@dataclass(frozen=True)
class LaidStep:
    """One step: a cover off or on, work, or a test. `again` marks a cover handled for a test's sake, not the work's."""

    kind: Literal["off", "on", "work", "test"]
    id: str
    name: str
    minutes: float
    people: int = 1
    again: bool = False

    @property
    def billed(self) -> float:
        """Its minutes on the clock times the people."""
        return self.minutes * self.people


@dataclass(frozen=True)
class Access:
    """What one cover comes to: minutes billed for having it off once (`once`) and for a road test's sake (`again`),
    and the work that needs it, by id."""

    id: str
    name: str
    once: float
    again: float
    users: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """The steps of a job in an order that works, the covers they handle in the order these come off, and the ways
    taken to places that have several."""

    todo: tuple[Todo, ...]
    steps: tuple[LaidStep, ...]
    access: tuple[Access, ...]
    taken: tuple[tuple[str, int], ...]

    @property
    def clock(self) -> float:
        """Minutes on the clock."""
        return float(sum(step.minutes for step in self.steps))

    @property
    def billed(self) -> float:
        """Minutes billed: each step's minutes times its people."""
        return float(sum(step.billed for step in self.steps))

    @property
    def covers(self) -> tuple[str, ...]:
        """Ids of every cover handled."""
        return tuple(one.id for one in self.access)

    def shares(self) -> dict[str, float]:
        """Billed minutes by the id of each work: its own, and of each cover it needs an equal part with the others
        that need it. That is the Shapley value of the shared covers. What a road test costs, its covers again
        included, stands under the test's id; what nothing needs but was off already, under "".
        """
        share: dict[str, float] = {}
        for todo in self.todo:
            share[todo.id] = share.get(todo.id, 0.0) + todo.billed
        tests = [todo.id for todo in self.todo if isinstance(todo, RoadTest)]
        for one in self.access:
            for user in one.users or ("",):
                share[user] = share.get(user, 0.0) + one.once / max(1, len(one.users))
            for test in tests if one.again else ():
                share[test] += one.again / len(tests)
        return share


def lay_out(
    graph: Graph,
    todo: Sequence[Todo],
    *,
    already_off: Collection[str] = frozenset(),
    can: Collection[str] | None = None,
) -> Plan:
    """The work in the order given, by the ways that take the fewest billed minutes together, in a bay that offers
    `can` (None: everything). A cover already off is only put back.

    Raises KeyError for a cover not known here, ValueError if two entries have one id or the bay will not do.

    >>> from shopboard.estimate.covers import Cover
    >>> floor = Graph({"plate": Cover("floor plate", 8, 10)})
    >>> plan = lay_out(floor, [Work("a", "seal", 30, ("plate",)), Work("b", "grease", 5, ("plate",))])
    >>> plan.billed, plan.shares()
    (53.0, {'a': 39.0, 'b': 14.0})
    """
    ids = [one.id for one in todo]
    if len(set(ids)) < len(ids):
        raise ValueError("two entries have the same id")
    needed = tuple(dict.fromkeys(cover for one in todo if isinstance(one, Work) for cover in one.covers))
    plans = [
        _laid(graph, tuple(todo), taken, already_off)
        for taken in graph.choices(needed)
        if graph.offered(graph.order(needed, taken), can)
    ]
    if not plans:
        raise ValueError("this bay does not offer what the covers need")
    return min(plans, key=lambda plan: (plan.billed, plan.clock))


def marginal(
    graph: Graph, further: Work, given: Sequence[Todo], *, already_off: Collection[str] = frozenset()
) -> float:
    """Billed minutes that one more work adds to a job whose work is `given`: its own and the covers only it needs."""
    before = lay_out(graph, given, already_off=already_off).billed
    return lay_out(graph, [further, *given], already_off=already_off).billed - before


class _Machine:
    """The machine while the steps are laid: which covers are off, in the order they came off."""

    def __init__(self, graph: Graph, above: Mapping[str, tuple[str, ...]], taken: dict[str, int]) -> None:
        self.graph, self.above, self.taken = graph, above, taken
        self.off: list[str] = []
        self.handled: dict[str, None] = {}
        self.tested: set[str] = set()
        self.steps: list[LaidStep] = []

    def start(self, already_off: Collection[str]) -> None:
        known = [id for id in already_off if id in self.graph.covers]
        self.off = [id for id in self.graph.order(known, self.taken) if id in already_off]
        self.handled.update(dict.fromkeys(self.off))

    def reach(self, needed: Iterable[str]) -> None:
        for id in self.graph.order(needed, self.taken):
            if id not in self.off:
                cover = self.graph.covers[id]
                self.steps.append(LaidStep("off", id, cover.name, cover.off, cover.people, id in self.tested))
                self.off.append(id)
                self.handled[id] = None

    def put_on(self, wanted: Collection[str] | None, *, later: Collection[str]) -> None:
        """Put on the wanted covers (None: all) and those beneath them; for a test's sake where `later` needs them."""
        for id in reversed(self.off.copy()):
            if wanted is None or set(wanted).intersection(self.graph.order([id], self.taken)):
                cover = self.graph.covers[id]
                again = id in later
                self.steps.append(LaidStep("on", id, cover.name, cover.on, cover.people, again))
                self.off.remove(id)
                if again:
                    self.tested.add(id)
                else:
                    self.tested.discard(id)


def _laid(graph: Graph, todo: tuple[Todo, ...], taken: dict[str, int], already_off: Collection[str]) -> Plan:
    machine = _Machine(graph, graph.above(taken), taken)
    machine.start(already_off)
    for place, one in enumerate(todo):
        if isinstance(one, Work):
            if place == 0 or isinstance(todo[place - 1], RoadTest):
                machine.reach(_needs(_until_test(todo[place:])))
            machine.steps.append(LaidStep("work", one.id, one.name, one.minutes, one.people))
        else:
            machine.put_on(one.on, later=graph.order(_needs(todo[place:]), taken))
            machine.steps.append(LaidStep("test", one.id, one.name, one.minutes, one.people))
    machine.put_on(None, later=())
    return Plan(todo, tuple(machine.steps), _accesses(machine, todo), tuple(taken.items()))


def _until_test(todo: Sequence[Todo]) -> tuple[Todo, ...]:
    end = next((place for place, one in enumerate(todo) if isinstance(one, RoadTest)), len(todo))
    return tuple(todo[:end])


def _needs(todo: Sequence[Todo]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(cover for one in todo if isinstance(one, Work) for cover in one.covers))


def _accesses(machine: _Machine, todo: tuple[Todo, ...]) -> tuple[Access, ...]:
    graph, taken = machine.graph, machine.taken
    reach = {one.id: graph.order(one.covers, taken) for one in todo if isinstance(one, Work)}
    found = []
    for id in (id for id in graph.order(machine.handled, taken) if id in machine.handled):
        handled = [step for step in machine.steps if step.id == id and step.kind in ("off", "on")]
        found.append(
            Access(
                id=id,
                name=graph.covers[id].name,
                once=float(sum(step.billed for step in handled if not step.again)),
                again=float(sum(step.billed for step in handled if step.again)),
                users=tuple(work for work, covers in reach.items() if id in covers),
            )
        )
    return tuple(found)

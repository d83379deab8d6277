"""The policy for one symptom as a tree: what to check first, what each outcome leads to, when to repair.

The tree is what `advise` would say at every step, followed to a depth that a person can read on a wall.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Literal

import msgspec

from .book import Book
from .evidence import Evidence
from .network import network
from .next_check import Advice, NextCheck, advise, outcome_chances
from .ranking import Ranking, rank

#: Checks on the longest path of a tree, and the probability below which a branch is not followed any more.
DEPTH, LEAST = 5, 0.01


class Branch(msgspec.Struct, frozen=True):
    """One outcome of the node's check: its id and name, how probable it is there, and where it leads."""

    outcome: str
    name: str
    probability: float
    node: TreeNode


class TreeNode(msgspec.Struct, frozen=True):
    """A step of the tree. `kind` is one of

    - check: make check `id`, then follow a branch;
    - repair: do correction `id`;
    - further: the tree ends here, go on at the machine with check `id`;
    - stop: nothing in the book is worth its time.

    `causes` are the likeliest three as (id, name, probability). Cautions come before `how`.
    """

    kind: Literal["check", "repair", "further", "stop"]
    id: str
    name: str
    minutes: float
    covers: tuple[str, ...]
    cautions: tuple[str, ...]
    how: str
    tool: str
    where: str
    why: str
    causes: tuple[tuple[str, str, float], ...]
    branches: tuple[Branch, ...] = ()

    def walk(self, answers: Mapping[str, str]) -> tuple[TreeNode, ...]:
        """The nodes from here along the given answers (outcome by check), this one first."""
        path = [self]
        while path[-1].kind == "check":
            told = answers.get(path[-1].id)
            following = [branch.node for branch in path[-1].branches if branch.outcome == told]
            if not following:
                break
            path.append(following[0])
        return tuple(path)


def triage_tree(
    book: Book,
    layout: Any,
    symptom: str,
    *,
    lacks: Collection[str] = (),
    instruments: Collection[str] | None = None,
    depth: int = DEPTH,
    least: float = LEAST,
) -> TreeNode:
    """The tree for one symptom on one layout, at most `depth` checks deep, beginning at the counter.

    Branches less probable than `least` are not followed further. Works for some tenths of a second, and is kept with
    the book. Raises ValueError if the symptom is not one of the layout's.
    """
    if symptom not in network(book, layout).symptoms:
        raise ValueError(f"{symptom} is no symptom of {layout}")
    owned = None if instruments is None else frozenset(instruments)
    limits = _Limits(frozenset(lacks), owned, depth, least)
    key = ("tree", str(layout), symptom, limits)
    if key not in book.compiled:
        book.compiled[key] = _grow(book, layout, Evidence((symptom,)), limits, 1.0, frozenset(), "counter")
    made: TreeNode = book.compiled[key]
    return made


class _Limits(msgspec.Struct, frozen=True):
    lacks: frozenset[str]
    instruments: frozenset[str] | None
    depth: int
    least: float


def _grow(
    book: Book, layout: Any, seen: Evidence, limits: _Limits, share: float, off: frozenset[str], at: str
) -> TreeNode:
    ranking = rank(book, layout, seen)
    advice = advise(
        book, layout, seen, covers_off=off, lacks=limits.lacks, instruments=limits.instruments, at=at, limit=1
    )
    if advice.repair_now or not advice.checks:
        return _leaf(advice, ranking)
    check = advice.checks[0]
    if len(seen.answers) >= limits.depth or share < limits.least:
        return _step("further", check, ranking)
    entry = book.checks[check.check]
    branches = []
    for outcome, probability in outcome_chances(book, layout, seen, check.check).items():
        after = Evidence(seen.symptoms, (*seen.answers, (check.check, outcome)))
        node = _grow(book, layout, after, limits, share * probability, off | set(check.covers), entry.where)
        branches.append(Branch(outcome, entry.outcomes[outcome].name, probability, node))
    return _step("check", check, ranking, tuple(branches))


def _step(
    kind: Literal["check", "further"], check: NextCheck, ranking: Ranking, branches: tuple[Branch, ...] = ()
) -> TreeNode:
    return TreeNode(
        kind=kind,
        id=check.check,
        name=check.name,
        minutes=check.minutes,
        covers=check.covers,
        cautions=check.cautions,
        how=check.how,
        tool=check.tool,
        where=check.where,
        why=check.why,
        causes=_likeliest(ranking),
        branches=branches,
    )


def _likeliest(ranking: Ranking) -> tuple[tuple[str, str, float], ...]:
    return tuple((cause.id, cause.name, cause.probability) for cause in ranking.causes[:3])


def _leaf(advice: Advice, ranking: Ranking) -> TreeNode:
    repair = advice.repair
    return TreeNode(
        kind="repair" if repair else "stop",
        id=repair.correction if repair else "",
        name=repair.name if repair else "hand it on",
        minutes=repair.minutes if repair else 0.0,
        covers=repair.covers if repair else (),
        cautions=repair.cautions if repair else (),
        how="",
        tool="",
        where="bay",
        why=f"cures it at {repair.probability:.0%}" if repair else "no check and no repair is worth its time",
        causes=_likeliest(ranking),
    )

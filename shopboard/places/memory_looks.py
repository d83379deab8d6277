"""Which checks of the trouble book show a component's failure, for the memory's warnings: the most telling first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from shopboard import memory
from shopboard.estimate.labour import closure

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

#: So many checks are named for a component.
MOST = 3


class Looks:
    """The checks by layout and component, each list made once."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.on = lru_cache(maxsize=None)(self._on)

    def _on(self, layout: str) -> Mapping[str, Sequence[memory.Look]]:
        return _OnLayout(self.book, layout)


class _OnLayout(Mapping[str, Sequence[memory.Look]]):
    """The checks that show a cause on one layout, made when asked for and kept."""

    def __init__(self, book: Book, layout: str) -> None:
        self.book, self.layout = book, layout
        self._made: dict[str, Sequence[memory.Look]] = {}

    def __getitem__(self, component: str) -> Sequence[memory.Look]:
        if component not in self._made:
            self._made[component] = self._make(component)
        return self._made[component]

    def __iter__(self) -> Iterator[str]:
        return iter(self.book.causes)

    def __len__(self) -> int:
        return len(self.book.causes)

    def _make(self, component: str) -> Sequence[memory.Look]:
        cause = self.book.causes[component]
        told = [(self._tells(check, outcomes), check) for check, outcomes in cause.answers.items()]
        told.sort(key=lambda pair: (-round(pair[0], 2), self._minutes(pair[1]), pair[1]))
        return [self._look(check) for tells, check in told if tells > 0][:MOST]

    def _tells(self, check_id: str, outcomes: Mapping[str, float]) -> float:
        check = self.book.checks.get(check_id)
        if check is None or self.layout not in check.layouts or check.where == "counter":
            return 0.0
        return max((often - check.outcomes[outcome].otherwise for outcome, often in outcomes.items()), default=0.0)

    def _minutes(self, check_id: str) -> float:
        check = self.book.checks.get(check_id)
        return check.minutes_on(self.layout) if check else 0.0

    def _look(self, check_id: str) -> memory.Look:
        check = self.book.checks[check_id]
        covers = self.book.covers
        off = closure(check.covers_on(self.layout), {id: cover.above for id, cover in covers.items()})
        return memory.Look(check.id, check.name, check.minutes_on(self.layout), tuple(covers[c].name for c in off))

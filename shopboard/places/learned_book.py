"""The trouble book as this shop's own closed jobs and the machine's age make it: what every ranking here goes by.

How often a cause comes at all is learned by counting; the age gives only the shape over hours, so that nothing counts
twice. Until the closed jobs are gone through, it is the book alone.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, TypeAlias

from shopboard.records import Layout, Machine, ShopState
from shopboard.trouble import Book

if TYPE_CHECKING:  # they bring what nothing loads before the first paint
    from shopboard.trouble import Learned

    from .knowledge import Knowledge, Material

#: The name of the lesson among those drawn from closed jobs.
LESSON = "book"
#: Layout and family; family "" is for all machines of the layout.
Shelfmark: TypeAlias = tuple[str, str]


class Books(Mapping[Shelfmark, "Learned"]):
    """What was learned by layout and family, each in one piece until somebody asks for it: a board wants few of many,
    and no key is to wait until all are unpacked."""

    def __init__(self, packed: Mapping[Shelfmark, bytes]) -> None:
        self._packed, self._open = packed, dict[Shelfmark, "Learned"]()

    @classmethod
    def of(cls, books: Mapping[Shelfmark, Learned]) -> Books:
        """These books, packed."""
        return cls({mark: pickle.dumps(book, protocol=5) for mark, book in books.items()})

    def __reduce__(self) -> tuple[type[Books], tuple[Mapping[Shelfmark, bytes]]]:
        return Books, (self._packed,)

    def __getitem__(self, mark: Shelfmark) -> Learned:
        if mark not in self._open:  # written by a process this board started
            self._open[mark] = pickle.loads(self._packed[mark])
        return self._open[mark]

    def __iter__(self) -> Iterator[Shelfmark]:
        return iter(self._packed)

    def __len__(self) -> int:
        return len(self._packed)


def lesson(material: Material) -> Books:
    """The book as learned for every layout, and for every family that has jobs of its own. Drawn anew when closed jobs
    or comebacks changed, and every day, as comeback days pass."""
    from shopboard.shop.lessons import results
    from shopboard.trouble import Tally, learn

    state, book = material.state, material.book
    back = frozenset((job.id, job.comeback) for job in state.jobs.values() if job.comeback)
    kept, drawn_for = material.kept.get(LESSON), (back, material.now.date())
    if kept is not None and not material.fresh and kept[0] == drawn_for:
        books: Books = kept[1]
        return books
    tally = Tally(book, results(state, (job for job, _ in material.closed.values()), material.now))
    every = {(layout.value, "") for layout in Layout} | tally.cells
    books = Books.of({mark: learn(book, tally, mark[0], family=mark[1]) for mark in sorted(every)})
    material.kept[LESSON] = (drawn_for, books)
    return books


class BookShelf:
    """The books of one board, each made when it is first asked for and kept while nothing new is known."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._of: Knowledge | None = None
        self._books: Mapping[Shelfmark, Learned] = {}
        self._aged: dict[tuple[str, str, tuple[tuple[str, float], ...]], Book] = {}
        self._factors: dict[tuple[int, float], dict[str, float]] = {}

    def _turn(self, knowledge: Knowledge | None) -> None:
        if knowledge is not self._of:
            self._of = knowledge
            self._books = (knowledge.lesson(LESSON) if knowledge else None) or {}
            self._aged.clear()
            self._factors.clear()

    def learned(self, knowledge: Knowledge | None, layout: str, family: str) -> Learned | None:
        """What the shop's jobs say for this layout and family; None while that is not reckoned."""
        self._turn(knowledge)
        return self._books.get((layout, family)) or self._books.get((layout, ""))

    def learned_for(self, state: ShopState, knowledge: Knowledge | None, machine: Machine) -> Learned | None:
        """What the shop's jobs say for a machine's layout and family."""
        from shopboard.shop.lessons import family_of

        return self.learned(knowledge, machine.layout.value, family_of(state, machine))

    def for_machine(self, state: ShopState, knowledge: Knowledge | None, machine: Machine) -> Book:
        """The book for a machine at its age."""
        from shopboard.shop.lessons import family_of

        learned = self.learned_for(state, knowledge, machine)
        factors = self.factors(state, knowledge, machine)
        return self._book(learned, machine.layout.value, family_of(state, machine), factors)

    def for_model(self, state: ShopState, knowledge: Knowledge | None, layout: str, model: str = "") -> Book:
        """The book for a machine not known yet, of this model if one is named."""
        known = state.models.get(model)
        family = (known.family if known else "") or model
        return self._book(self.learned(knowledge, layout, family), layout, family, {})

    def _book(self, learned: Learned | None, layout: str, family: str, factors: dict[str, float]) -> Book:
        from shopboard.trouble import reweighted

        base = learned.book if learned else self.book
        if not factors:
            return base
        key = (layout, family, tuple(sorted(factors.items())))
        if key not in self._aged:
            self._aged[key] = reweighted(base, layout, factors)
        return self._aged[key]

    def factors(self, state: ShopState, knowledge: Knowledge | None, machine: Machine) -> dict[str, float]:
        """How many times as often as at all ages each cause comes at this machine's age, by the shop's own failures;
        empty where the age cannot be told."""
        self._turn(knowledge)
        if knowledge is None:
            return {}
        from shopboard.memory.meters import age_line

        line = age_line(machine)
        if isinstance(line, str):
            return {}
        key = (machine.id, line.now)
        if key not in self._factors:
            from .knowledge import renewed_on

            renewed = renewed_on(state, machine.id)
            self._factors[key] = knowledge.weights_for(line.now, renewed)
        return self._factors[key]

"""Closed jobs counted: what was found how often, and what the checks said, by layout and family of models.

Counting fifty thousand jobs takes seconds; what is learned for one layout and family is then a matter of sums.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import msgspec

from .book import Book, Cause

#: (cause, or "" for jobs without a cause that shows it; check or symptom) -> how often which outcome, "" the normal one
Seen = dict[tuple[str, str], Counter[str]]


class ClosedResult(msgspec.Struct, frozen=True):
    """A closed job as a lesson: confirmed causes, reported symptoms and answers of one machine. `good` only if the
    correction cured it and it did not come back within the shop's comeback days; other jobs teach nothing.

    A symptom the customer told unasked teaches nothing of how often it comes (what was left unsaid is not known);
    one that was asked for and stands among the answers as "yes" or "no" does.
    """

    layout: str
    causes: tuple[str, ...]
    symptoms: tuple[str, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    family: str = ""
    good: bool = True


class Findings:
    """The findings of a book as rows of outcomes: those of a check, or yes and no of a symptom."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.leaks: dict[str, dict[str, float]] = {id: {"yes": s.otherwise} for id, s in book.symptoms.items()}
        for id, check in book.checks.items():
            self.leaks[id] = {o.id: o.otherwise for o in check.outcomes.values() if not o.normal}

    def named(self, cause: Cause, finding: str) -> dict[str, float]:
        """The links the cause names for a check or symptom."""
        if finding in self.book.symptoms:
            return {"yes": cause.shows[finding]} if finding in cause.shows else {}
        return dict(cause.answers.get(finding, {}))

    def outcomes(self) -> dict[tuple[str, str], str]:
        """Each answer that says something as it is counted: the outcome, "" for the normal one."""
        told = {(id, word): outcome for id in self.book.symptoms for word, outcome in (("yes", "yes"), ("no", ""))}
        for id, check in self.book.checks.items():
            told |= {(id, o.id): "" if o.normal else o.id for o in check.outcomes.values()}
        return told

    def links(self) -> frozenset[tuple[str, str]]:
        """Every cause with each symptom and check it names."""
        named = ((id, cause.shows | cause.answers) for id, cause in self.book.causes.items())
        return frozenset((id, finding) for id, links in named for finding, often in links.items() if often)


@dataclass
class Counts:
    """Counted jobs: how many, how often each cause was `found`, how many causes were found on each layout (`on`), and
    the outcomes `seen` with each cause that was the only one, and with none that shows them."""

    jobs: int = 0
    found: Counter[str] = field(default_factory=Counter)
    on: Counter[str] = field(default_factory=Counter)
    seen: Seen = field(default_factory=dict)

    def __iadd__(self, other: Counts) -> Counts:
        self.jobs += other.jobs
        self.found += other.found
        self.on += other.on
        for key, outcomes in other.seen.items():
            self.seen.setdefault(key, Counter()).update(outcomes)
        return self


class Tally:
    """The good results of closed jobs, counted against a book. Jobs without a cause of the book teach nothing."""

    def __init__(self, book: Book, results: Iterable[ClosedResult] = ()) -> None:
        self.findings = Findings(book)
        self._outcomes, self._links = self.findings.outcomes(), self.findings.links()
        self._cells: dict[tuple[str, str], Counts] = {}
        for result in results:
            self.add(result)

    def add(self, result: ClosedResult) -> None:
        """Count one more closed job."""
        causes = [id for id in result.causes if id in self.findings.book.causes]
        if not result.good or not causes:
            return
        cell = self._cells.setdefault((result.layout, result.family), Counts())
        cell.jobs += 1
        cell.on[result.layout] += len(causes)
        cell.found.update(causes)
        if len(causes) == len(result.causes):  # what else was found may have shown anything
            self._answers(cell.seen, causes, result.answers)

    def _answers(self, seen: Seen, causes: list[str], answers: Iterable[tuple[str, str]]) -> None:
        for answer in answers:
            outcome, finding = self._outcomes.get(answer), answer[0]
            if outcome is None:
                continue
            if len(causes) == 1:
                seen.setdefault((causes[0], finding), Counter())[outcome] += 1
            if not any((cause, finding) in self._links for cause in causes):
                seen.setdefault(("", finding), Counter())[outcome] += 1

    @property
    def cells(self) -> set[tuple[str, str]]:
        """Every layout and family that has jobs."""
        return set(self._cells)

    def levels(self, layout: str, family: str) -> tuple[Counts, Counts, Counts]:
        """The counts on other layouts, on this one, and on this family's machines of it, each job in one of them."""
        made = (Counts(), Counts(), Counts())
        for where, cell in sorted(self._cells.items(), key=lambda item: item[0]):
            level = made[0 if where[0] != layout else 2 if family and where[1] == family else 1]
            level += cell
        return made

"""What causes show and how often findings come without one, as a shop's closed jobs correct the book."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec
from msgspec.structs import replace

from .book import Book, Cause, Check, Symptom
from .counts import best_size, bounded, findings_of, link_of, noisy, row_of, surprise, updated

#: As many jobs a stated frequency is worth: one of these, the first while jobs are few.
SIZES = (40.0, 10.0, 20.0, 80.0, 160.0)
#: A link that the book does not name is believed when the counts are this much better told by it (log probability).
NEW_LINK = 8.0


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


#: (cause, or "" for jobs without a cause that shows it; check or symptom) -> how often which outcome, "" the normal one
Seen = dict[tuple[str, str], Counter[str]]


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

    def outcome(self, finding: str, told: str) -> str | None:
        """The outcome as counted ("" for the normal one), None for one that says nothing."""
        if finding in self.book.symptoms:
            return {"yes": "yes", "no": ""}.get(told)
        check = self.book.checks.get(finding)
        if check is None or told not in check.outcomes:
            return None
        return "" if check.outcomes[told].normal else told

    def count(self, results: Sequence[ClosedResult]) -> Seen:
        """The outcomes seen with each cause that was the only one, and with none that shows them."""
        seen: Seen = {}
        for result in results:
            causes = [self.book.causes[id] for id in result.causes if id in self.book.causes]
            for finding, told in result.answers:
                outcome = self.outcome(finding, told)
                if outcome is None:
                    continue
                if len(causes) == 1:
                    seen.setdefault((causes[0].id, finding), Counter())[outcome] += 1
                if not any(self.named(cause, finding) for cause in causes):
                    seen.setdefault(("", finding), Counter())[outcome] += 1
        return seen


class Links:
    """The leaks and links of a layout's causes after the jobs of each level: other layouts, this one,
    and the family, each job in one of them."""

    def __init__(self, book: Book, causes: Sequence[Cause], levels: Sequence[Sequence[ClosedResult]]) -> None:
        self.findings = Findings(book)
        self.seen = [self.findings.count(results) for results in levels]
        self.leaks = {id: dict(leaks) for id, leaks in self.findings.leaks.items()}
        for seen in self.seen:
            size = best_size(((row_of(leaks), seen.get(("", id), {})) for id, leaks in self.leaks.items()), SIZES)
            for id, leaks in self.leaks.items():
                self.leaks[id] = findings_of(updated(row_of(leaks), size, seen.get(("", id), {})))
        self.chances = {
            (cause.id, id): {o: noisy(self.findings.named(cause, id).get(o, 0.0), leak) for o, leak in leaks.items()}
            for cause in causes
            for id, leaks in self.leaks.items()
            if self.findings.named(cause, id)
        }
        for seen in self.seen:
            size = best_size(((row_of(found), seen.get(key, {})) for key, found in self.chances.items()), SIZES)
            for key, found in self.chances.items():
                self.chances[key] = findings_of(updated(row_of(found), size, seen.get(key, {})))
        self._believe_new(causes)

    def _believe_new(self, causes: Sequence[Cause]) -> None:
        """Add links the book does not name where the jobs speak loudly for them."""
        for cause in causes:
            for id, leaks in self.leaks.items():
                counts = self.counted(cause.id, id)
                row = row_of(leaks)
                if counts and (cause.id, id) not in self.chances and surprise(row, counts) > NEW_LINK:
                    self.chances[cause.id, id] = findings_of(updated(row, SIZES[1], counts))

    def counted(self, cause: str, finding: str) -> Counter[str]:
        """The outcomes seen on the layout itself with this cause alone."""
        return sum((seen.get((cause, finding), Counter()) for seen in self.seen[1:]), Counter())

    def links(self, cause: Cause, finding: str) -> dict[str, float]:
        """The cause's links to a check's outcomes (or "yes" of a symptom) as learned."""
        named, leaks = self.findings.named(cause, finding), self.leaks[finding]
        found = {o: link_of(chance, leaks[o]) for o, chance in self.chances.get((cause.id, finding), {}).items()}
        return {o: link for o, link in found.items() if link > 0.01 or o in named}

    def cause(self, cause: Cause, weight: float) -> Cause:
        """The cause with its learned weight and links."""
        book = self.findings.book
        shows = {id: told["yes"] for id in book.symptoms if (told := self.links(cause, id))}
        answers = {id: told for id in book.checks if (told := self.links(cause, id))}
        return replace(cause, weight=weight, shows=shows, answers=answers)

    def symptom(self, symptom: Symptom) -> Symptom:
        """The symptom with its learned `otherwise`."""
        return replace(symptom, otherwise=bounded(self.leaks[symptom.id]["yes"]))

    def check(self, check: Check) -> Check:
        """The check with its learned `otherwise`."""
        leaks = self.leaks[check.id]
        outcomes = {id: o if o.normal else replace(o, otherwise=leaks[id]) for id, o in check.outcomes.items()}
        return replace(check, outcomes=outcomes)

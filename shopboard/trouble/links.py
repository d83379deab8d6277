"""What causes show and how often findings come without one, as a shop's closed jobs correct the book."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from msgspec.structs import replace

from .book import Cause, Check, Symptom
from .counts import best_size, bounded, findings_of, link_of, noisy, row_of, surprise, updated
from .tally import Counts, Findings

#: As many jobs a stated frequency is worth: one of these, the first while jobs are few.
SIZES = (40.0, 10.0, 20.0, 80.0, 160.0)
#: A link that the book does not name is believed when the counts are this much better told by it (log probability).
NEW_LINK = 8.0


class Links:
    """The leaks and links of a layout's causes after the jobs of each level: other layouts, this one,
    and the family, each job in one of them."""

    def __init__(self, findings: Findings, causes: Sequence[Cause], levels: Sequence[Counts]) -> None:
        self.findings = findings
        self.seen = [counts.seen for counts in levels]
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
        new = {key for seen in self.seen[1:] for key in seen} - self.chances.keys()
        rows = {id: row_of(leaks) for id, leaks in self.leaks.items()}
        for cause in causes:
            for id, row in rows.items():
                if (cause.id, id) in new and surprise(row, counts := self.counted(cause.id, id)) > NEW_LINK:
                    self.chances[cause.id, id] = findings_of(updated(row, SIZES[1], counts))

    def counted(self, cause: str, finding: str) -> Counter[str]:
        """The outcomes seen on the layout itself with this cause alone."""
        found: Counter[str] = Counter()
        for seen in self.seen[1:]:
            found.update(seen.get((cause, finding), ()))
        return found

    def links(self, cause: Cause, finding: str) -> dict[str, float]:
        """The cause's links to a check's outcomes (or "yes" of a symptom) as learned."""
        if (chances := self.chances.get((cause.id, finding))) is None:
            return {}
        named, leaks = self.findings.named(cause, finding), self.leaks[finding]
        found = {o: link_of(chance, leaks[o]) for o, chance in chances.items()}
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

"""What the shop's own closed jobs say, laid over the book.

Three jobs of the shop hardly move it and three hundred overrule it. All layouts together shape the estimate for a
layout, and that the estimate for a family of models. A pure function of the results: take a job out and its lesson
is gone.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import msgspec

from .book import Book, Cause
from .counts import best_of, log_poisson_gamma, noisy, row_of
from .links import Links
from .tally import ClosedResult, Counts, Findings, Tally

#: As many findings of a cause its weight word is worth: one of these, the first while jobs are few. A word is about
#: 2.5 times the next, so four findings is about what being sure to half a word is worth.
WEIGHT_SIZES = (4.0, 1.0, 2.0, 8.0, 16.0)


class Said(msgspec.Struct, frozen=True):
    """One number of the book beside what the shop saw, as shares from 0 to 1. `finding` is "" for how common the cause
    is, else the symptom, or check and outcome; `book` is what the book says, `seen` of `of` what the shop's jobs say,
    `now` what is reckoned with from now on."""

    cause: str
    finding: str
    book: float
    seen: int
    of: int
    now: float

    @property
    def shop(self) -> float:
        """The share the shop saw itself; not a number if it saw none."""
        return self.seen / self.of if self.of else math.nan

    @property
    def text(self) -> str:
        """The line as a sentence."""
        what = f"{self.cause}, {self.finding}" if self.finding else self.cause
        return f"{what}: book says {self.book:.0%}, this shop says {self.seen} of {self.of}, now {self.now:.0%}"


class Learned(msgspec.Struct, frozen=True):
    """The book as the shop's jobs correct it for one layout and family, and every number that has jobs behind it; how
    common each cause is always among them.

    `jobs` are the closed jobs that teach: on other layouts, on this layout, and of those on machines of the family.
    """

    book: Book
    said: tuple[Said, ...]
    jobs: tuple[int, int, int] = (0, 0, 0)

    def of(self, cause: str) -> dict[str, Said]:
        """What has jobs behind it on one cause, by finding."""
        return {said.finding: said for said in self.said if said.cause == cause}


def learn(book: Book, results: Iterable[ClosedResult] | Tally, layout: Any, *, family: str = "") -> Learned:
    """The book for machines of this layout (and family, if named) after the closed jobs `results`; who learns for
    several layouts or families counts them once in a `Tally` of the same book.

    Causes, symptoms, checks and outcomes the book does not know are passed over.
    """
    tally = results if isinstance(results, Tally) else Tally(book, results)
    levels = tally.levels(str(layout), family)
    here = {id: cause for id, cause in book.causes.items() if str(layout) in cause.layouts}
    if not here or not any(counts.jobs for counts in levels):
        return Learned(replace(book, compiled={}), ())
    brought = {id: _brought_in(book, cause, str(layout)) for id, cause in here.items()}
    shares = _shares(book, here, brought, levels)
    total = sum(cause.weight for cause in here.values())
    scale = total / sum(shares[id] / brought[id] for id in here)
    links = Links(tally.findings, tuple(here.values()), levels)
    causes = {id: links.cause(cause, scale * shares[id] / brought[id]) for id, cause in here.items()}
    learned = replace(
        book,
        symptoms={id: links.symptom(symptom) for id, symptom in book.symptoms.items()},
        checks={id: links.check(check) for id, check in book.checks.items()},
        causes={**book.causes, **causes},
        compiled={},
    )
    others, rest, related = levels
    said = (*_said_weights(here, brought, shares, levels), *_said_links(links, here))
    return Learned(learned, said, (others.jobs, rest.jobs + related.jobs, related.jobs))


def reweighted(book: Book, layout: Any, factors: Mapping[str, float]) -> Book:
    """The book with the causes of the layout so many times as likely against each other as `factors` say (1 where they
    name none); how likely any of them is at all stays as it was. Raises ValueError for a factor not above 0."""
    if bad := sorted(id for id, factor in factors.items() if not 0 < factor < math.inf):
        raise ValueError(f"a factor must be above 0: {', '.join(bad)}")
    here = [cause for cause in book.causes.values() if str(layout) in cause.layouts]
    told = {cause.id: cause.weight * factors.get(cause.id, 1.0) for cause in here}
    scale = sum(cause.weight for cause in here) / sum(told.values())
    changed = {cause.id: msgspec.structs.replace(cause, weight=scale * told[cause.id]) for cause in here}
    return replace(book, causes={**book.causes, **changed}, compiled={})


def _brought_in(book: Book, cause: Cause, layout: str) -> float:
    """In how many ways a cause has machines brought in: the symptoms it is expected to show. Jobs count causes as they
    come in, the book's weights as they are there; a fault that shows in more ways comes in more often."""
    shown = (s for s in book.symptoms.values() if layout in s.layouts)
    return sum(noisy(cause.shows.get(symptom.id, 0.0), symptom.otherwise) for symptom in shown)


def weight_shares(book: Book, layout: Any) -> dict[str, float]:
    """How common each cause of the layout is by the book, as its share of the causes that machines come in with."""
    here = [cause for cause in book.causes.values() if str(layout) in cause.layouts]
    return _scaled({cause.id: cause.weight * _brought_in(book, cause, str(layout)) for cause in here})


def outcome_shares(book: Book, cause: str, finding: str) -> dict[str, float]:
    """P(outcome) of a check with this cause alone; of a symptom, P("yes"). The normal outcome is ""."""
    findings = Findings(book)
    named = findings.named(book.causes[cause], finding)
    return row_of({o: noisy(named.get(o, 0.0), leak) for o, leak in findings.leaks[finding].items()})


def _chances(book: Book, causes: Iterable[str], counts: Counts) -> dict[str, int]:
    """How many causes were found on the layouts where each of these can be."""
    return {id: sum(counts.on[layout] for layout in book.causes[id].layouts) for id in causes}


def _found(here: Iterable[str], levels: Sequence[Counts]) -> Counter[str]:
    """How often each cause of the layout was found on it."""
    found = levels[1].found + levels[2].found
    return Counter({id: found[id] for id in here if found[id]})


def _shares(
    book: Book, here: Mapping[str, Cause], brought: Mapping[str, float], levels: Sequence[Counts]
) -> dict[str, float]:
    """Each cause's share of the causes found on the layout, after the jobs of every level."""
    share = _scaled({id: cause.weight * brought[id] for id, cause in here.items()})
    for counts in levels:
        count, chances = counts.found, _chances(book, here, counts)
        expected = {id: chances[id] * share[id] for id in here}
        size = best_of(WEIGHT_SIZES, _foretells([(expected[id], count[id]) for id in here]))
        share = _scaled({id: share[id] * (size + count[id]) / (size + expected[id]) for id in here})
    return share


def _foretells(pairs: Sequence[tuple[float, int]]) -> Callable[[float], float]:
    return lambda size: sum(log_poisson_gamma(size, expected, seen) for expected, seen in pairs)


def _scaled(values: Mapping[str, float]) -> dict[str, float]:
    total = sum(values.values())
    return {id: value / total for id, value in values.items()}


def _said_weights(
    here: Mapping[str, Cause],
    brought: Mapping[str, float],
    shares: Mapping[str, float],
    levels: Sequence[Counts],
) -> Iterator[Said]:
    """How common every cause of the layout is."""
    book = _scaled({id: cause.weight * brought[id] for id, cause in here.items()})
    count = _found(here, levels)
    of = count.total()
    yield from (Said(id, "", book[id], count[id], of, shares[id]) for id in here)


def _said_links(links: Links, here: Mapping[str, Cause]) -> Iterator[Said]:
    for (id, finding), found in links.chances.items():
        seen = links.counted(id, finding)
        if not seen:
            continue
        before = outcome_shares(links.findings.book, id, finding)
        for outcome, now in row_of(found).items():
            if outcome:
                what = (
                    finding if outcome == "yes" and finding in links.findings.book.symptoms else f"{finding} {outcome}"
                )
                yield Said(id, what, before[outcome], seen[outcome], seen.total(), now)

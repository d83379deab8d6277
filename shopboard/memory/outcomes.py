"""How well the shop's words held: first guesses against confirmed causes, estimates against minutes, comebacks.

Bands of shares are Wilson's (J. Amer. Statist. Assoc. 22 (1927) 209-212), of a middle value those of order statistics.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import NormalDist

import msgspec

from shopboard.estimate.labour import CoverTimes, labour
from shopboard.records import ClosedJob, Job, Stage

from .exact import binomial
from .figures import LEVEL, Figure, count, per_cent, rounded

#: Fewer jobs than this say nothing of how well probabilities held: even true ones look wrong by chance.
LEAST_JUDGED = 100
#: Probabilities are put together in these groups.
GROUPS = (0.0, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0)


class Judged(msgspec.Struct, frozen=True):
    """What was thought and what turned out: causes with their probabilities as ranked, causes confirmed, minutes as
    estimated and as spent (0: not known)."""

    job: int
    ranked: tuple[tuple[str, float], ...]
    confirmed: tuple[str, ...]
    estimated: float = 0.0
    spent: float = 0.0


def judged(job: Job, covers: Mapping[str, CoverTimes]) -> Judged | None:
    """What a closed job says of its diagnosis; None if no cause was confirmed or none ranked. Estimated minutes are the
    operations' with every cover once (those in `covers`), spent minutes all but those booked on the diagnosis."""
    confirmed = tuple(dict.fromkeys(finding.cause for finding in job.findings if finding.confirmed))
    if job.stage is not Stage.COLLECTED or not confirmed or not job.likely:
        return None
    work = [(each.minutes, [cover for cover in each.covers if cover in covers]) for each in job.operations]
    estimated = labour(work, covers).total
    spent = sum(spell.minutes for spell in job.spent if spell.what != "diagnosis")
    return Judged(job.id, tuple((one.cause, one.probability) for one in job.likely), confirmed, estimated, spent)


def wilson(seen: int, of: int, level: float = LEVEL) -> tuple[float, float]:
    """The band of a share seen `seen` times `of`; 0 to 1 if nothing was looked at.

    >>> [round(end, 4) for end in wilson(81, 263, 0.95)]
    [0.2553, 0.3662]
    """
    if not of:
        return 0.0, 1.0
    z = NormalDist().inv_cdf((1 + level) / 2)
    middle, half = seen + z * z / 2, z * math.sqrt(seen * (of - seen) / of + z * z / 4)
    return max(0.0, (middle - half) / (of + z * z)), min(1.0, (middle + half) / (of + z * z))


def share(seen: int, of: int, what: str) -> Figure:
    """A share as a figure; `what` says of what ("first guesses right")."""
    if not of:
        return Figure(said=f"{what}: no job to tell from")
    low, high = wilson(seen, of)
    said = f"{what}: {seen} of {of}, {per_cent(seen / of)} ({per_cent(low)} to {per_cent(high)})"
    return Figure(value=seen / of, low=low, high=high, said=said)


def first_right(jobs: Iterable[Judged]) -> Figure:
    """How often the cause ranked first was among those confirmed."""
    hits = [job.ranked[0][0] in job.confirmed for job in jobs]
    return share(sum(hits), len(hits), "the first likely cause was the cause")


def minutes_held(jobs: Iterable[Judged]) -> Figure:
    """Minutes spent over minutes estimated: the middle job, with band."""
    ratios = sorted(job.spent / job.estimated for job in jobs if job.estimated > 0 and job.spent > 0)
    if not ratios:
        return Figure(said="minutes against the estimate: no job to tell from")
    low, high = _middle_band(ratios)
    value = _middle(ratios)
    said = f"the middle job took {rounded(value)} times its estimated repair minutes"
    if low is not None and high is not None:
        said += f" ({rounded(low)} to {rounded(high)}, {count(len(ratios), 'job')})"
    else:
        said += f" ({count(len(ratios), 'job')}, too few for a band)"
    return Figure(value=value, low=low, high=high, unit="times", said=said)


def _middle(ordered: Sequence[float]) -> float:
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def _middle_band(ordered: Sequence[float]) -> tuple[float | None, float | None]:
    """The k-th from either end holds the middle with at least LEVEL; None if even the ends do not."""
    chances = binomial(len(ordered), 0.5)
    below, k = 0.0, 0
    while k < len(ordered) // 2 and below + float(chances[k]) <= (1 - LEVEL) / 2:
        below += float(chances[k])
        k += 1
    return (ordered[k - 1], ordered[-k]) if k else (None, None)


class CameBack(msgspec.Struct, frozen=True):
    """Repairs of one cause that came back within the shop's days, of those whose days are over: which share, and how
    many came `back`."""

    cause: str
    share: Figure
    back: int = 0


def comebacks(closed: Iterable[ClosedJob], now: datetime, days: int) -> tuple[Figure, tuple[CameBack, ...]]:
    """The share of repairs that came back within `days`, and by cause, the most first. Only repairs collected longer
    ago than that count: a young one may still come back."""
    every = list(closed)
    collected = {job.id: job for job in every if job.stage is Stage.COLLECTED}
    within = timedelta(days=days)
    back = {
        job.comeback_of
        for job in every
        if (first := collected.get(job.comeback_of or 0)) and job.arrived - first.closed_at <= within
    }
    old = [job for job in collected.values() if now - job.closed_at > within]
    by_cause: dict[str, list[bool]] = {}
    for job in old:
        for cause in job.causes:
            by_cause.setdefault(cause, []).append(job.id in back)
    rows = [
        CameBack(cause, share(sum(hits), len(hits), cause.replace("-", " ")), sum(hits))
        for cause, hits in by_cause.items()
    ]
    rows.sort(key=lambda row: (-(row.share.low or 0.0), -(row.share.value or 0.0), row.cause))
    total = share(sum(job.id in back for job in old), len(old), f"repairs that came back within {days} days")
    return total, tuple(rows)


class Group(msgspec.Struct, frozen=True):
    """Likely causes given a probability within one group: how many, the mean said, and the share that was true."""

    said: float
    true: Figure
    many: int


class Reliability(msgspec.Struct, frozen=True):
    """How the probabilities held: groups for a diagram, mean squared error (Brier), mean log score of the confirmed
    cause, the chance of such a misfit if they were true, and the sentence."""

    groups: tuple[Group, ...]
    brier: float | None
    log_score: float | None
    chance: float | None
    said: str


def reliability(jobs: Sequence[Judged]) -> Reliability:
    """How well the stated probabilities held over closed jobs.

    The misfit is Spiegelhalter's z (Statistics in Medicine 5 (1986) 421-433) over every cause ranked, one or none true.
    """
    rows = [(p, cause in job.confirmed) for job in jobs for cause, p in job.ranked if cause != "none"]
    groups = tuple(group for low, high in pairwise(GROUPS) if (group := _group(rows, low, high)))
    if not rows:
        return Reliability((), None, None, None, "no job to judge probabilities by")
    brier = sum((p - hit) ** 2 for p, hit in rows) / len(rows)
    given = [max((p for cause, p in job.ranked if cause in job.confirmed), default=0.0) for job in jobs]
    log_score = sum(math.log(max(p, 1e-3)) for p in given) / len(given)
    if len(jobs) < LEAST_JUDGED:
        said = f"{count(len(jobs), 'job')}: too few to say how well probabilities held (from {LEAST_JUDGED} on)"
        return Reliability(groups, brier, log_score, None, said)
    off = sum((hit - p) * (1 - 2 * p) for p, hit in rows)
    spread = math.sqrt(sum(_variance([p for cause, p in job.ranked if cause != "none"]) for job in jobs))
    chance = math.erfc(abs(off) / spread / math.sqrt(2)) if spread else 1.0
    word = "held" if chance > 0.05 else "were too sure" if off > 0 else "were not sure enough"
    said = f"over {count(len(jobs), 'job')} the probabilities {word} (chance of such a misfit {per_cent(chance)})"
    return Reliability(groups, brier, log_score, chance, said)


def _variance(stated: Sequence[float]) -> float:
    """Of a job's misfit if the probabilities are true and one of the causes, or none, is the cause."""
    return sum((1 - 2 * p) ** 2 * p for p in stated) - sum((1 - 2 * p) * p for p in stated) ** 2


def _group(rows: Sequence[tuple[float, bool]], low: float, high: float) -> Group | None:
    inside = [(p, hit) for p, hit in rows if low <= p < high or p == high == 1.0]
    if not inside:
        return None
    said = sum(p for p, _ in inside) / len(inside)
    true = share(sum(hit for _, hit in inside), len(inside), f"said {per_cent(said)}, true")
    return Group(said, true, len(inside))

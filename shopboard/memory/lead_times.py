"""How long parts take to come, by supplier and class, open orders counted as “at least this long”.

Shares by day from the orders so far, each new order taken as one more among them, so that a date said to hold four
times in five does so from few orders too; where the orders do not reach that far, “not before” is all that is said.
Source: Berliner & Hill, J. Amer. Statist. Assoc. 83 (1988) 772-779 (next observation after censored ones).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta

import msgspec

from shopboard.records import Moment, PartLine

from .exact import benjamini_hochberg
from .figures import Figure, count, per_cent
from .kaplan_meier import kaplan_meier

#: A group needs as many parts received before it speaks for itself.
LEAST_RECEIVED = 10
#: Orders younger than this many days are held against the older ones when suppliers are getting slower, if both have
#: LEAST_COMPARED parts received; what is said may be chance in SLOWER_FALSE of the cases.
RECENT_DAYS, LEAST_COMPARED, SLOWER_FALSE = 120, 6, 0.10
#: “Slower” is said by the days until this share is in, if those are at least SLOWER_DAYS more than before.
SLOWER_SHARE, SLOWER_DAYS = 0.8, 1.0


class Order(msgspec.Struct, frozen=True):
    """One order of a part: when it was ordered and when it came (None: still open)."""

    supplier: str
    lead_class: str
    ordered: Moment
    received: Moment | None = None

    def days(self, now: datetime) -> float:
        """Days it took, or has been open."""
        return ((self.received or now) - self.ordered) / timedelta(days=1)


class Wait(msgspec.Struct, frozen=True):
    """An order as a life: it ends by coming. A part that came at once was waited for all the same."""

    end: float
    failed: bool
    start: float = -1.0


class Waits(msgspec.Struct, frozen=True, kw_only=True):
    """The waits of a group of orders in days: `group` says which orders they are."""

    group: str
    waits: tuple[Wait, ...]

    @property
    def received(self) -> int:
        """How many parts came."""
        return sum(1 for wait in self.waits if wait.failed)

    def in_by(self, days: float, waited: float = 0.0) -> float:
        """The chance that an order open for `waited` days has come when it is `days` old."""
        before, so_far = waited, 0.0
        for age, share in self._shares(waited):
            if age > days:
                return so_far + (share - so_far) * max(days - before, 0.0) / (age - before)
            before, so_far = age, share
        return so_far

    def days_for(self, share: float, waited: float = 0.0) -> Figure:
        """Days after ordering by which this share of orders open for `waited` days has come; without a value, only
        `low` ("not before"), where the orders so far do not reach that far."""
        before, so_far = waited, 0.0
        for age, there in self._shares(waited):
            if there >= share - 1e-12:
                # Between two parts the chance is taken to grow evenly
                return self._figure(share, before + (age - before) * (share - so_far) / (there - so_far), waited)
            before, so_far = age, there
        said = f"cannot be told ({self._rests()}): not before {before:.0f} days"
        return Figure(low=before, unit="days", said=said)

    def _shares(self, waited: float) -> Iterator[tuple[float, float]]:
        """Days at which parts came, and the chance of the next having come by then, if it is one more among them."""
        good = 1.0
        for age, came, at_risk in self._steps(waited):
            good *= 1 - came / (at_risk + 1)
            yield age, 1 - good

    def _steps(self, waited: float) -> list[tuple[float, int, int]]:
        """Days at which parts came, how many, and how many were open until then, among those open for `waited`."""
        still = sorted(wait for wait in ((w.end, not w.failed) for w in self.waits) if wait[0] > waited or not waited)
        steps: list[tuple[float, int, int]] = []
        for place, (age, open_on) in enumerate(still):
            if open_on:
                continue
            if steps and steps[-1][0] == age:
                steps[-1] = (age, steps[-1][1] + 1, steps[-1][2])
            else:
                steps.append((age, 1, len(still) - place))
        return steps

    def _figure(self, share: float, age: float, waited: float) -> Figure:
        still = [wait for wait in self.waits if wait.end > waited or not waited]
        low, high = kaplan_meier(still).quantile_band(share)
        ends = f"{low if low is not None else age:.0f} to {f'{high:.0f}' if high is not None else 'no known end'}"
        said = f"{per_cent(share)} in by day {math.ceil(age - 1e-9)} ({ends}; {self._rests()})"
        return Figure(value=age, low=low, high=high, unit="days", said=said)

    def _rests(self) -> str:
        open_now = len(self.waits) - self.received
        return f"{count(self.received, 'part')} in, {open_now} open"


class LeadTimes(msgspec.Struct, frozen=True):
    """A shop's lead times: every order's wait by supplier and class."""

    orders: Mapping[tuple[str, str], tuple[Wait, ...]]

    def of(self, supplier: str, lead_class: str) -> Waits:
        """The waits that speak for a supplier and class: its own, else all the supplier's, else the class of all
        suppliers, else all orders there are, as soon as LEAST_RECEIVED parts came."""
        named = [
            (f"{lead_class} from {supplier}" if lead_class else supplier, (supplier, lead_class)),
            (f"all parts from {supplier}", (supplier, None)),
            (f"{lead_class} from all suppliers", (None, lead_class)),
        ]
        for group, (who, what) in named:
            waits = self._waits(group, who, what)
            if waits.received >= LEAST_RECEIVED:
                return waits
        return self._waits("all orders", None, None)

    def _waits(self, group: str, supplier: str | None, lead_class: str | None) -> Waits:
        found = [
            wait
            for (who, what), waits in self.orders.items()
            if supplier in (None, who) and lead_class in (None, what)
            for wait in waits
        ]
        return Waits(group=group, waits=tuple(found))


def orders_of(lines: Iterable[PartLine]) -> tuple[Order, ...]:
    """The orders in part lines; lines never ordered, and those that came before they were ordered, are left out."""
    return tuple(
        Order(line.supplier, line.lead_class, line.ordered_at, line.received_at)
        for line in lines
        if line.ordered_at is not None and (line.received_at is None or line.received_at >= line.ordered_at)
    )


def lead_times(orders: Iterable[Order], now: datetime) -> LeadTimes:
    """The lead times of orders as they stand `now`."""
    found: dict[tuple[str, str], list[Wait]] = {}
    for order in orders:
        wait = Wait(max(order.days(now), 0.0), order.received is not None)
        found.setdefault((order.supplier, order.lead_class), []).append(wait)
    return LeadTimes({group: tuple(waits) for group, waits in found.items()})


class Slower(msgspec.Struct, frozen=True):
    """A supplier whose parts take longer of late: days by which SLOWER_SHARE were in before and of late, and the chance
    of so much longer waits if nothing had changed."""

    supplier: str
    before: float | None
    lately: float | None
    chance: float
    said: str


def slower(orders: Sequence[Order], now: datetime) -> tuple[Slower, ...]:
    """The suppliers that are getting slower, most certain first, by the log-rank test of recent against older orders,
    all suppliers judged together. Source: Mantel, Cancer Chemother. Rep. 50 (1966) 163-170."""
    found: list[Slower] = []
    for supplier in sorted({order.supplier for order in orders if order.supplier}):
        theirs = [order for order in orders if order.supplier == supplier]
        recent = [o.days(now) <= RECENT_DAYS if o.received is None else _recent(o, now) for o in theirs]
        waits = [Wait(max(order.days(now), 0.0), order.received is not None) for order in theirs]
        old = [wait for wait, new in zip(waits, recent, strict=True) if not new]
        new = [wait for wait, new in zip(waits, recent, strict=True) if new]
        if min(sum(wait.failed for wait in side) for side in (old, new)) >= LEAST_COMPARED:
            found.append(_slower(supplier, old, new))
    standing = benjamini_hochberg([each.chance for each in found], SLOWER_FALSE)
    said = [each for each, stands in zip(found, standing, strict=True) if stands and _shows(each)]
    return tuple(sorted(said, key=lambda each: each.chance))


def _shows(each: Slower) -> bool:
    """Whether the difference is one that a promise would notice."""
    return each.lately is None or (each.before is not None and each.lately - each.before >= SLOWER_DAYS)


def _recent(order: Order, now: datetime) -> bool:
    return now - order.ordered <= timedelta(days=RECENT_DAYS)


def _slower(supplier: str, old: list[Wait], new: list[Wait]) -> Slower:
    before, lately = kaplan_meier(old).quantile(SLOWER_SHARE), kaplan_meier(new).quantile(SLOWER_SHARE)
    chance = log_rank(old, new)
    words = [f"{days:.0f} days" if days is not None else "more than seen so far" for days in (before, lately)]
    said = f"{supplier} is getting slower: {per_cent(SLOWER_SHARE)} of the parts were in after {words[0]}, "
    said += f"of late after {words[1]}"
    return Slower(supplier, before, lately, chance, said)


def log_rank(old: Sequence[Wait], new: Sequence[Wait]) -> float:
    """The chance of the new waits being so much longer than the old if nothing had changed (one-sided log-rank)."""
    import numpy as np

    both = (*old, *new)
    ends, came = np.array([wait.end for wait in both]), np.array([wait.failed for wait in both], dtype=bool)
    is_new = np.arange(len(both)) >= len(old)
    days = np.unique(ends[came])
    n, n_new = (len(side) - np.searchsorted(np.sort(side), days, side="left") for side in (ends, ends[is_new]))
    d, d_new = (
        np.bincount(np.searchsorted(days, side), minlength=len(days)) for side in (ends[came], ends[came & is_new])
    )
    share = n_new / n
    less = float((d * share - d_new).sum())
    several = n > 1
    spread = d * share * (1 - share) * (n - d)
    variance = float((spread[several] / (n[several] - 1)).sum())
    return 0.5 * math.erfc(less / math.sqrt(2 * variance)) if variance > 0 else 1.0

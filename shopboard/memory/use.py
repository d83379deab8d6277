"""How many hours a week a machine runs, from however few readings there are and what other machines do.

Use differs between machines by a log-normal factor and scatters from week to week; both spreads come from the shop's
own readings. A machine's readings and its fellows' are weighed by what each is worth, so one reading is enough to say
something and twenty are believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime, timedelta
from statistics import median

import msgspec

from shopboard.records import Machine

from .figures import LEVEL, Figure, rounded

#: No machine runs longer in a week [h]; a pair of readings that says so is passed over.
WEEK_HOURS = 168.0
#: Spreads taken for granted while fewer than LEAST_MACHINES have been read twice: of ln(use) between machines, and the
#: variance of one week's use over its mean squared (no source; replaced by the shop's own).
BETWEEN, WITHIN, LEAST_MACHINES = 0.7, 1.5, 5
#: Readings closer together than this say nothing of use.
LEAST_WEEKS = 0.5

_WEEK = timedelta(weeks=1)
_NORMAL = 1.6448536269514722  # half width of a 90 % band in standard deviations


class Span(msgspec.Struct, frozen=True):
    """Hours run over so many weeks between two readings."""

    hours: float
    weeks: float


class Fleet(msgspec.Struct, frozen=True):
    """What the shop's machines show together: usual `use` a week [h] (None: nothing known), spread `between` machines
    (standard deviation of ln use), variance `within` of one week over its mean squared, and `machines` it rests on."""

    use: float | None
    between: float
    within: float
    machines: int


class Use(msgspec.Struct, frozen=True):
    """A machine's use: ln(hours a week) has this mean and standard deviation; `own` weeks of its own readings."""

    log_mean: float
    log_spread: float
    own: float

    @property
    def figure(self) -> Figure:
        """Hours a week with band, as a sentence."""
        value, wide = math.exp(self.log_mean), math.exp(_NORMAL * self.log_spread)
        source = f"from {rounded(self.own)} weeks of its own readings" if self.own else "as machines here usually do"
        low, high = value / wide, value * wide
        said = f"runs {rounded(value)} h a week ({rounded(low)} to {rounded(high)}), {source}"
        return Figure(value=value, low=low, high=high, unit="h/week", level=LEVEL, said=said)

    @property
    def middle(self) -> float:
        """Hours a week, the middle."""
        return math.exp(self.log_mean)

    def weeks_to(self, hours: float, within: float) -> tuple[float, float, float]:
        """Weeks until the machine has run `hours` more: the middle and the band; 0 if `hours` is not above 0."""
        if hours <= 0:
            return 0.0, 0.0, 0.0
        weeks = hours / self.middle
        wide = math.exp(_NORMAL * math.sqrt(self.log_spread**2 + within / max(weeks, 1.0)))
        return weeks, weeks / wide, weeks * wide


def spans(machine: Machine) -> tuple[Span, ...]:
    """Hours and weeks between a machine's readings; what cannot be (backwards, more than a week has) is left out."""
    readings = sorted(machine.readings, key=lambda reading: reading.at)
    found: list[Span] = []
    since: datetime | None = None
    ran, last = 0.0, 0.0
    for reading in readings:
        if since is None:
            since, last = reading.at, reading.hours
            continue
        ran += reading.hours if reading.new_meter else reading.hours - last
        last = reading.hours
        weeks = (reading.at - since) / _WEEK
        if weeks < LEAST_WEEKS and 0 <= ran <= WEEK_HOURS:
            continue
        if 0 <= ran <= WEEK_HOURS * weeks:
            found.append(Span(ran, weeks))
        since, ran = reading.at, 0.0
    return tuple(found)


def fleet(machines: Iterable[Machine]) -> Fleet:
    """What the machines show together."""
    known = [found for machine in machines if (found := spans(machine)) and sum(span.hours for span in found) > 0]
    if not known:
        return Fleet(None, BETWEEN, WITHIN, 0)
    rates = [(sum(s.hours for s in found), sum(s.weeks for s in found)) for found in known]
    logs = [math.log(hours / weeks) for hours, weeks in rates]
    if len(known) < LEAST_MACHINES:
        return Fleet(math.exp(median(logs)), BETWEEN, WITHIN, len(known))
    within = _within(known)
    noise = sum(within / weeks for _, weeks in rates) / len(rates)
    mean = sum(logs) / len(logs)
    between = sum((log - mean) ** 2 for log in logs) / (len(logs) - 1) - noise
    return Fleet(math.exp(mean), math.sqrt(max(between, 0.15**2)), within, len(known))


def _within(known: Iterable[tuple[Span, ...]]) -> float:
    """Variance of one week over its mean squared, from machines read more than twice."""
    squares, freedom = 0.0, 0.0
    for found in known:
        weeks = sum(span.weeks for span in found)
        rate = sum(span.hours for span in found) / weeks
        squares += sum((span.hours / rate - span.weeks) ** 2 for span in found)
        freedom += sum(span.weeks * (1 - span.weeks / weeks) for span in found)
    # The usual value counts as ten weeks seen
    return (squares + 10 * WITHIN) / (freedom + 10)


def use_of(machine: Machine, known: Fleet) -> Use | None:
    """The machine's use; None where neither it nor any other machine was read twice."""
    if known.use is None:
        return None
    weeks = hours = 0.0
    for span in spans(machine):
        weeks, hours = weeks + span.weeks, hours + span.hours
    precision, mean = 1 / known.between**2, math.log(known.use)
    if weeks:
        more = weeks / known.within
        mean = (mean * precision + math.log(max(hours, 0.5) / weeks) * more) / (precision + more)
        precision += more
    return Use(mean, math.sqrt(1 / precision), weeks)

"""The trouble book: symptoms, checks, causes, corrections, covers, service points and cautions.

**The format** (this page is its one description). A book is a few TOML files, one a system of the machine, merged
over the files. Ids are kebab-case (`loop-relief-forward`) and unique within their kind over all files. Plain trade
language everywhere; a name reads alone, because screens show it alone ("worse hot", "oil level low").
Layouts are `in-line`, `split`, `transaxle`, `gear`; an entry without `layouts` holds for all four.

    [symptom.weak-drive]
    name = "weak drive"
    words = ["no power on hills", "slow", "will not pull"]   # how customers say it
    ask = ["hot-or-cold", "one-way-or-both"]                 # checks worth asking at the counter
    layouts = ["in-line", "split", "transaxle"]              # optional
    otherwise = "rarely"     # how often it is reported with no listed cause that shows it

    [check.hot-or-cold]
    name = "worse hot or cold?"
    how = "Ask when it is at its worst: from cold, or after half an hour of work."
    where = "counter"                # counter | yard | bay | move
    minutes = 1                      # a number, or by layout: { in-line = 10, split = 20 }
    covers = ["floor-plate"]         # what must be off: a list, or by layout: { in-line = ["floor-plate"], split = [] }
    tool = "pressure gauge"          # only an instrument that a shop may not own; hand tools are not named
    cautions = ["oil-injection"]     # shown before `how`
    needs = ["case drain"]           # what the unit must have: "case drain", "charge pump", "test port" …
    unless = ["no-drive"]            # optional: not made once one of these symptoms is reported
    shared_error = "cold oil"        # optional: what spoils this check and others alike (they then look normal)
    layouts = ["in-line", "split"]   # optional
    reading = { quantity = "case_drain_flow", limit = "case_drain_limit" }   # optional: a measured number tells too
    [check.hot-or-cold.outcomes]
    same = { name = "same hot and cold", normal = true }      # exactly one outcome is the normal one
    hot = { name = "worse hot", otherwise = "seldom" }        # all others: how often it is seen with no cause for it
    cold = { name = "worse cold", otherwise = "rarely" }

An outcome that is a symptom in other words says so, `same_as = "creeps-in-neutral"`: once that symptom is reported, the
check is not asked any more and the two count once.

With `reading`, `quantity` names the measured quantity, `limit` the model's number it is compared with, and every
outcome, the normal one too, has `ratio = [mean, spread]`: the reading divided by the limit, as seen with that outcome
(`ratio = [0.5, 0.2]` normal, `ratio = [1.8, 0.5]` too high). A value near the limit then moves little. A quantity that
is a share or a multiple already has `limit = 1`. Where two quantities answer one check `reading` is a list of them, and
every `ratio` a list as long: `[[1.0, 0.4], [0.98, 0.04]]`; of what is measured each counts, apart from the others.

    [cause.piston-wear-pump]
    name = "pump pistons and bores worn"
    layouts = ["in-line", "split"]                            # optional
    weight = "common"                # everyday | common | now and then | uncommon | rare
    correction = ["rebuild-pump"]    # at least one; the first is the usual one, and what the time is reckoned with
    shows = { weak-drive = "almost always", weak-when-hot = "usually" }       # symptoms
    answers.hot-or-cold = { hot = "usually" }                 # outcomes of checks; never the normal outcome
    answers.case-drain = { high = "often" }
    why = "The film of oil between piston and bore thins when hot and lets pressure by."   # optional

    [correction.rebuild-pump]
    name = "rebuild the pump"
    minutes = 240                    # own work and the proof that it cured, without covers; or by layout as above
    covers = ["floor-plate"]         # as for a check
    parts = [{ name = "seal kit", quantity = 1, lead_class = "seals" }]
    skill = "hydrostat"
    needs = ["clean bench"]          # what the bay must offer: "lift", "clean bench", "hoist" …
    cautions = ["oil-injection"]

    [cover.floor-plate]
    name = "floor plate"
    layouts = ["in-line"]            # optional
    off = 8                          # minutes to take off
    on = 10                          # minutes to put back
    under = ["deck"]                 # covers that must come off first
    people = 1                       # optional
    ways = [["deck"], ["side-panel"]]   # optional: one of these sets must be off besides. The triage reckons with the
                                     # first, the usual one; a job's labour takes the cheapest for all of its work
    needs = ["hoist"]                # optional: what the bay must offer for it

    [service.front-joint-grease]
    name = "front universal joint: grease"
    layouts = ["in-line"]            # optional
    covers = ["floor-plate"]
    minutes = 5
    normal_hours = 100
    severe_hours = 50
    months = 12                      # optional: at least this often

    [caution.oil-injection]
    text = "Oil under pressure goes through skin. Never search for a leak by hand."   # name = "…" optional

**Frequency words**: almost always .95, usually .80, often .65, half the time .50, sometimes .30, seldom .15,
rarely .07, almost never .03. **Weight words**, as prior odds: everyday .0160, common .0065, now and then .0026,
uncommon .0010, rare .0004.

**What it means.** A finding (a symptom, or one outcome of a check that is not the normal one) is seen unless every
cause present fails to show it and nothing else brings it about: P(seen) = 1 − (1 − otherwise)·Π(1 − frequency). A cause
that does not name an outcome leaves it at `otherwise`. A check of several outcomes is a row of such yes/no findings of
which one outcome is reported: the observed one yes, the others no; the normal outcome means all no.

**A shop's own additions** are files in the same format. A new id adds an entry; an id the book has already changes the
named fields of that entry only (`shows` and each `answers.CHECK` by key), and `drop = true` takes the entry out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import msgspec

from shopboard.records import Layout

Where = Literal["counter", "yard", "bay", "move"]
ALL_LAYOUTS = tuple(layout.value for layout in Layout)


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """What every entry of the book has: its id, its name, and the layouts it holds for."""

    id: str
    name: str
    layouts: tuple[str, ...] = ALL_LAYOUTS


class Accessed(Entry, frozen=True, kw_only=True):
    """An entry that costs time and access. `minutes` is its own work on the slowest of its layouts."""

    minutes: float
    minutes_by: dict[str, float] = {}
    covers: dict[str, tuple[str, ...]] = {}

    def minutes_on(self, layout: str) -> float:
        """Minutes of its own work on this layout, covers not counted."""
        return self.minutes_by.get(layout, self.minutes)

    def covers_on(self, layout: str) -> tuple[str, ...]:
        """Ids of the covers that must be off on this layout (those above them are not repeated here)."""
        return self.covers.get(layout, ())


class Symptom(Entry, frozen=True, kw_only=True):
    """Something a customer reports. `otherwise` is how often (0 to 1) it comes with no listed cause that shows it."""

    otherwise: float
    words: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """One way a check can come out. `ratios` are (mean, spread) of each reading over its limit, if it is measured,
    `same_as` the symptom that this outcome is in other words."""

    id: str
    name: str
    normal: bool = False
    otherwise: float = 0.0
    same_as: str = ""
    ratios: tuple[tuple[float, float], ...] = ()


class ReadingOf(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which measured quantity answers a check, and which number of the model is its limit; or a plain number, for a
    share or a multiple."""

    quantity: str
    limit: str | float


class Check(Accessed, frozen=True, kw_only=True):
    """A question, look or measurement, with the outcomes it can have (the normal one among them)."""

    how: str
    where: Where
    outcomes: dict[str, Outcome]
    tool: str = ""
    cautions: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    shared_error: str = ""
    readings: tuple[ReadingOf, ...] = ()

    @property
    def normal(self) -> Outcome:
        """The outcome a sound machine shows."""
        return next(outcome for outcome in self.outcomes.values() if outcome.normal)


class Cause(Entry, frozen=True, kw_only=True):
    """A fault. `weight` is its prior odds, `shows` and `answers` the frequencies (0 to 1) of what it brings about."""

    weight: float
    correction: tuple[str, ...]
    shows: dict[str, float] = {}
    answers: dict[str, dict[str, float]] = {}
    why: str = ""


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A part a correction uses; `lead_class` groups parts that take about as long to come."""

    name: str
    quantity: int = 1
    lead_class: str = ""


class Correction(Accessed, frozen=True, kw_only=True):
    """What is done about a cause."""

    parts: tuple[Part, ...] = ()
    skill: str = ""
    needs: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class Cover(Entry, frozen=True, kw_only=True):
    """Anything that must come off to reach something; minutes off and on again, what must be off before it, and one of
    several sets of covers (`ways`) that must be off besides, where it can be reached from more than one side. `needs`
    is what the bay must offer for it."""

    off: float
    on: float
    under: tuple[str, ...] = ()
    people: int = 1
    ways: tuple[tuple[str, ...], ...] = ()
    needs: tuple[str, ...] = ()

    @property
    def above(self) -> tuple[str, ...]:
        """What must be off before it by its usual way, the first."""
        return (*self.under, *(self.ways[0] if self.ways else ()))


class Service(Accessed, frozen=True, kw_only=True):
    """A point to grease, fill or change, with the book's own intervals in hours (the machine's manual comes first)."""

    normal_hours: float
    severe_hours: float
    months: float = 0.0


class Caution(msgspec.Struct, frozen=True, kw_only=True):
    """A warning, shown before the instruction it belongs to."""

    id: str
    name: str
    text: str


@dataclass(frozen=True, eq=False)
class Book:
    """The whole trouble book, every reference checked. Made by `load_book`; two books are never equal."""

    symptoms: Mapping[str, Symptom]
    checks: Mapping[str, Check]
    causes: Mapping[str, Cause]
    corrections: Mapping[str, Correction]
    covers: Mapping[str, Cover]
    service_points: Mapping[str, Service]
    cautions: Mapping[str, Caution]
    compiled: dict[Any, Any] = field(default_factory=dict, repr=False)
    """Arrays made from the book, kept by whoever made them."""

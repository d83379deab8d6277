"""The jobs that stand in the shop on the sample's day: written by hand, step by step, and run through the rules.

A step is one line of the file: `DAY CLOCK WHO WHAT … | words`. DAY counts working days from the sample's today.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from random import Random
from typing import Any

from sample_shop.slide import working_day
from shopboard.estimate.labour import closure
from shopboard.mechanics import outcomes
from shopboard.mechanics.kept import kept
from shopboard.places import measure_forms, measure_lines
from shopboard.records import Customer, Job, PartLine, PartState, Payer
from shopboard.shop import approval, bays, closing, evidence, intake, parts, stages

from .bench import Bench
from .hours import TODAY, when
from .people import Fleet
from .sources import table

CENT = Decimal("0.01")


@dataclass
class Script:
    """One open job: the machine, the first moment, and its lines."""

    data: dict[str, Any]
    fleet: Fleet

    @property
    def machine(self) -> int:
        """The machine's number."""
        return self.fleet.machine

    @property
    def first(self) -> datetime:
        """When it was taken in."""
        return when(self.data["at"])

    def tell(self, bench: Bench) -> Iterator[datetime]:
        """Each step at its moment."""
        yield self.first
        telling = Steps(bench, self)
        telling.arrive()
        for line in self.data.get("steps", []):
            head, _, words = line.partition("|")
            day, clock, who, what, *rest = shlex.split(head)
            yield when(f"{day} {clock}")
            telling.now = when(f"{day} {clock}")
            try:
                STEPS[what](telling, who, rest, words.strip())
            except Exception as error:
                error.add_note(f"{self.data['serial']}: {line}")
                raise


def scripts(machines: list[Fleet]) -> list[Script]:
    """The open jobs of the file, each with its machine by serial."""
    by_serial = {kept.serial: kept for kept in machines}
    return [Script(data, by_serial[data["serial"]]) for data in table("open")["job"]]


def taken(found: list[Script]) -> dict[int, datetime]:
    """Which machines are here at the end, and from when."""
    return {s.machine: s.first for s in sorted(found, key=lambda s: s.first, reverse=True)}


class Steps:
    """What may happen to one open job, each step by its word in the file."""

    def __init__(self, bench: Bench, script: Script) -> None:
        self.bench, self.data, self.fleet = bench, script.data, script.fleet
        self.now, self.id = script.first, 0

    @property
    def job(self) -> Job:
        """The job as it is now."""
        return self.bench.state.jobs[self.id]

    def do(self, by: str, rule: Any, *args: Any, **named: Any) -> None:
        """A rule on this job, now."""
        self.bench.do(self.now, by, rule, self.id, *args, **named)

    def arrive(self) -> None:
        """The counter's part."""
        data, customer = self.data, self._customer()
        shown, new = self.fleet.meter(self.now, Random(data["serial"]))
        given = intake.Intake(
            customer=customer.id,
            machine=self.fleet.machine,
            complaint=data["said"],
            hours=None if data.get("meter") == "dead" else shown,
            new_meter=new and data.get("meter") != "dead",
            symptoms=tuple(data.get("symptoms", ())),
            answers=tuple(data.get("answers", {}).items()),
            condition=data.get("condition", ""),
            keys=data.get("keys", "1 on the hook"),
            attachments=data.get("attachments", ""),
            payer=Payer(data.get("payer", "customer")),
            order_number=data.get("order_number", ""),
            diagnostic_fee=Decimal(data["fee"]) if "fee" in data else None,
            spend_before_call=Decimal(data["spend"]) if "spend" in data else None,
            promise=when(data["promise"]) if "promise" in data else None,
            machine_down=data.get("down", False),
        )
        job = self.bench.do(self.now, data["by"], intake.take_in, given, book=self.bench.book)
        assert job is not None
        self.id = job.id

    def _customer(self) -> Customer:
        return self.bench.state.customers[self.fleet.customer]

    def lines(self, *states: PartState) -> list[PartLine]:
        """The job's lines in one of these states."""
        return [line for line in self.bench.state.parts_of(self.id) if line.state in states]

    def line(self, name: str, *states: PartState) -> PartLine:
        """The line of the part with this name."""
        return next(line for line in self.lines(*states) if line.name == name)

    def need(self, who: str, name: str, quantity: int) -> None:
        """Ask for a part of the catalogue."""
        fixes = self.bench.book.corrections.values()
        lead = next(part.lead_class for fix in fixes for part in fix.parts if part.name == name)
        line = self.bench.given.catalogue.line(name, lead, self.fleet.model)
        self.do(who, parts.need, name=name, quantity=quantity, lead_class=lead, **line)

    def need_all(self, who: str) -> None:
        """Ask for every part that the corrections found name."""
        for operation in self.job.operations:
            for part in self.bench.book.corrections[operation.id].parts:
                self.need(who, part.name, part.quantity)

    def estimate(self) -> Decimal:
        """What the job comes to as it stands."""
        return approval.known_cost(self.bench.state, self.job)

    def order(self, who: str, supplier: str, days: int, reference: str) -> None:
        """Order what is needed from this supplier, expected on a day counted from today."""
        ids = tuple(line.id for line in self.lines(PartState.NEEDED) if line.supplier == supplier)
        self.bench.do(self.now, who, parts.order, ids, supplier, working_day(TODAY + days), reference)

    def receive(self, who: str, supplier: str) -> None:
        """Everything on order from this supplier came."""
        for line in self.lines(PartState.ORDERED, PartState.BACK_ORDERED, PartState.PARTLY_RECEIVED):
            if line.supplier == supplier:
                self.bench.do(self.now, who, parts.receive, line.id, line.quantity - line.received)

    def open_up(self, who: str, cover: str) -> None:
        """Take a cover off, and those above it."""
        under = {id: entry.under for id, entry in self.bench.book.covers.items()}
        for name in closure([cover], under):
            if name not in self.job.covers_off:
                self.do(who, stages.cover_off, name)

    def shut(self, who: str) -> None:
        """Put every cover back."""
        for cover in reversed(self.job.covers_off):
            self.do(who, stages.cover_on, cover)

    def fit_all(self, who: str) -> None:
        """Fit what is here."""
        for line in self.lines(PartState.RECEIVED):
            self.bench.do(self.now, who, parts.fit, line.id)

    def collect(self, who: str, share: str, word: str) -> None:
        """The machine goes; `share` of the sum asked for is the bill."""
        asked = self.job.approval.asked if self.job.approval else Decimal(0)
        total = (asked * Decimal(share)).quantize(CENT)
        self.do(who, closing.collect, total, Decimal(0) if word else total, word)


_ON_ORDER = (PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)
Handler = Callable[[Steps, str, list[str], str], None]


def _said(words: str) -> list[str]:
    return [part.strip() for part in words.split(";")]


def _reading(s: Steps, who: str, a: list[str], words: str) -> None:
    error = float(a[3]) if len(a) > 3 else 0.0
    s.do(who, evidence.read, a[0], float(a[1]), a[2], error, book=s.bench.book, note=words)


def _measure(s: Steps, who: str, a: list[str], words: str) -> None:
    """Timed runs in a range, each "distance, time, grade, oil, engine speed", worked out and kept as the Bench does."""
    parts = ("distance", "time", "grade", "oil", "speed")
    runs = [dict(zip(parts, run.split(", "), strict=True)) for run in a[1:]]
    model = s.bench.state.models[s.fleet.model]
    setup = {"gear": a[0], "mass": str(model.data["mass"])}
    result = measure_forms.timed_runs(model, setup, runs)
    note = measure_lines.runs_note(measure_forms.setup_words(model, setup), runs)
    check = outcomes.CHECKS[result.calculation]
    s.do(who, evidence.measured, check, result.outcome, kept(result), book=s.bench.book, note=note)


def _find(s: Steps, who: str, a: list[str], words: str) -> None:
    s.do(who, evidence.find, a[0], words, a[1] if len(a) > 1 else "", book=s.bench.book)


def _ask(s: Steps, who: str, a: list[str], words: str) -> None:
    s.do(who, approval.ask, Decimal(a[0]) if a else s.estimate())


def _back_order(s: Steps, who: str, a: list[str], words: str) -> None:
    day = working_day(TODAY + int(a[0])) if a[0] != "-" else None
    s.bench.do(s.now, who, parts.back_order, s.line(words, *_ON_ORDER).id, day)


def _some(s: Steps, who: str, a: list[str], words: str) -> None:
    s.bench.do(s.now, who, parts.receive, s.line(words, *_ON_ORDER).id, int(a[0]))


def _put(s: Steps, who: str, a: list[str], words: str) -> None:
    free = [bay.id for bay, why_not in bays.fitting(s.bench.state, s.job) if not why_not]
    s.do(who, bays.put, free[0] if a[0] == "any" else a[0])


def _test(s: Steps, who: str, a: list[str], words: str) -> None:
    s.do(who, stages.road_test, a[0] == "passed", "interlocks" in a, "brake" in a, words)


#: What the words of the file do. `a` are the words after the step's own, `w` what stands behind the bar.
STEPS: dict[str, Handler] = {
    "diagnose": lambda s, who, a, w: s.do(who, stages.diagnose, *a),
    "answer": lambda s, who, a, w: s.do(who, evidence.answer, a[0], a[1], book=s.bench.book, note=w),
    "withdraw": lambda s, who, a, w: s.do(who, evidence.withdraw, a[0], book=s.bench.book),
    "tick": lambda s, who, a, w: s.do(who, evidence.tick, tuple(a), book=s.bench.book),
    "read": _reading,
    "measure": _measure,
    "remark": lambda s, who, a, w: s.do(who, evidence.remark, w),
    "find": _find,
    "unfind": lambda s, who, a, w: s.do(who, evidence.unfind, a[0]),
    "confirm": lambda s, who, a, w: s.do(who, evidence.confirm, a[0]),
    "need": lambda s, who, a, w: s.need(who, w, int(a[0])),
    "need-all": lambda s, who, a, w: s.need_all(who),
    "ask": _ask,
    "called": lambda s, who, a, w: s.do(who, approval.called),
    "yes": lambda s, who, a, w: s.do(who, approval.give, *_said(w), *(Decimal(n) for n in a)),
    "no": lambda s, who, a, w: s.do(who, approval.decline, *_said(w)),
    "order": lambda s, who, a, w: s.order(who, a[0], int(a[1]), w),
    "back-order": _back_order,
    "receive": lambda s, who, a, w: s.receive(who, a[0]),
    "receive-some": _some,
    "send-back": lambda s, who, a, w: s.bench.do(s.now, who, parts.send_back, s.line(w, *PartState).id),
    "put": _put,
    "swap": lambda s, who, a, w: s.do(who, bays.swap, a[0]),
    "leave": lambda s, who, a, w: s.do(who, bays.leave),
    "start": lambda s, who, a, w: s.do(who, stages.start_repair, *a),
    "wait-for-parts": lambda s, who, a, w: s.do(who, stages.wait_for_parts),
    "spend": lambda s, who, a, w: s.do(who, stages.spend, float(a[0]), w),
    "off": lambda s, who, a, w: s.open_up(who, a[0]),
    "on": lambda s, who, a, w: s.shut(who),
    "fit-all": lambda s, who, a, w: s.fit_all(who),
    "done": lambda s, who, a, w: s.do(who, stages.work_done, a[0]),
    "finish": lambda s, who, a, w: s.do(who, stages.finish_repair),
    "test": _test,
    "collect": lambda s, who, a, w: s.collect(who, a[0], w),
    "left": lambda s, who, a, w: s.do(who, closing.machine_left, closing.declined_due(s.job)),
}

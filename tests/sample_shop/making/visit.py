"""One visit of a machine, from the counter to the gate, step by step through the shop's rules.

A visit is a generator: it yields the moment of its next step and goes on when the shop's clock is there, so that
visits overlap as they do, and a full bay makes the next machine wait.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from random import Random

from shopboard import memory
from shopboard.estimate.labour import access_minutes, closure
from shopboard.memory.meters import age_line
from shopboard.records import Job, PartLine, PartState, Payer, Stage
from shopboard.shop import approval, bays, closing, evidence, intake, parts, stages, while_open

from . import leads
from .bench import Bench
from .hours import at, clock, day_of, later, there
from .plan import Visit
from .sources import KIND
from .truth import outcome

CENT = Decimal("0.01")
#: The share of visits with which service is done, and the points done at most.
SERVICED, SERVICE_POINTS = 0.6, 4


class Telling:
    """A visit being told: what is known of it, and its steps in order. `payer` of a comeback is the shop."""

    def __init__(self, bench: Bench, visit: Visit, rng: Random, back_of: str = "") -> None:
        self.bench, self.visit, self.rng, self.back_of = bench, visit, rng, back_of
        self.given, self.fleet, self.told = bench.given, visit.fleet, visit.complaint
        self.now = visit.arrives
        self.id = 0
        self.tech = ""
        self.declined = False

    # -- small things ------------------------------------------------------------------------------

    @property
    def job(self) -> Job:
        """The job as it is now."""
        return self.bench.state.jobs[self.id]

    @property
    def customer(self) -> str:
        """Whose machine it is."""
        return self.bench.state.customers[self.fleet.customer].name

    def do(self, by: str, rule: object, *args: object, **named: object) -> None:
        """A step of this visit, now."""
        self.bench.do(self.now, by, rule, self.id, *args, **named)  # type: ignore[arg-type]

    def wait(self, least: float, most: float | None = None, who: str = "") -> datetime:
        """Let working minutes pass, and go on until `who` is there."""
        self.now = there(who, later(self.now, self.rng.uniform(least, least if most is None else most)))
        return self.now

    def desk(self) -> str:
        """Who is at the counter now."""
        return "dell" if clock(self.now) < "15:25" and self.rng.random() < 0.8 else "ines"

    def worker(self, skill: str) -> str:
        """Somebody with the skill who is here now, the one whose trade it is first."""
        able = {"hydrostat": "tove marek", "driveline": "marek tove jun", "engine": "jun tove", "": "tove marek"}
        names = able.get(skill, "sabe jun marek tove").split()
        here = [name for name in names if there(name, self.now) == self.now] or ["tove"]
        return here[0] if self.rng.random() < 0.7 else self.rng.choice(here)

    # -- the story ---------------------------------------------------------------------------------

    def tell(self) -> Iterator[datetime]:
        """The whole visit."""
        yield self.now
        self._arrive()
        yield self.wait(20, 700 if self.rng.random() < 0.3 else 300)
        yield from self._diagnose()
        yield self.wait(8, 60, self.tech)
        self._find()
        self._service()
        yield self.wait(10, 120)
        yield from self._agree()
        if self.declined:
            yield self.wait(300, 3000)
            self.do(self.desk(), closing.machine_left, paid=closing.declined_due(self.job))
            return
        yield from self._parts()
        yield from self._repair()
        yield from self._leave()

    def _arrive(self) -> None:
        rng, words = self.rng, self.given.counter
        kind, customer = KIND[self.fleet.model], self.bench.state.customers[self.fleet.customer]
        shown, new = self.fleet.meter(self.now, rng)
        asked = [a for a in self.told.answers if self.bench.book.checks[a[0]].where == "counter"]
        for check in self._asked_too():
            if check not in dict(asked):
                asked.append((check, outcome(self.bench.book, self.told.cause, check, rng)))
        account, early = customer.name in words["account"], self.fleet.model == "osmere-60" and shown < 300
        payer = Payer.SHOP if self.back_of == "same" else Payer.WARRANTY if early else Payer.CUSTOMER
        given = intake.Intake(
            customer=customer.id,
            machine=self.fleet.machine,
            complaint=self.told.said,
            hours=shown,
            new_meter=new,
            symptoms=self.told.symptoms,
            answers=tuple(asked),
            condition=rng.choice(words["condition"][kind]),
            keys=rng.choice(words["keys"]),
            attachments=rng.choice(words["attachments"][kind]),
            payer=payer,
            order_number=f"{rng.randrange(3, 9)}-{rng.randrange(1000, 9999)}"
            if customer.name in words["orders"]
            else "",
            diagnostic_fee=Decimal(0) if account or self.back_of else None,
            spend_before_call=rng.choice((None, None, Decimal(150), Decimal(250), Decimal(400))),
            promise=at(
                day_of(self.now) + rng.choice((2, 3, 3, 4, 5, 5, 6, 8, 10)), rng.choice(("12:00", "16:00", "16:00"))
            ),
            machine_down=self.told.symptoms[0] in ("no-drive", "bang-no-drive"),
        )
        job = self.bench.do(self.now, self.desk(), intake.take_in, given, book=self.bench.book)
        assert job is not None
        self.id = job.id

    def _asked_too(self) -> list[str]:
        book, layout = self.bench.book, self.bench.state.machines[self.fleet.machine].layout
        ask = [check for symptom in self.told.symptoms for check in book.symptoms[symptom].ask]
        fit = [check for check in dict.fromkeys(ask) if layout in book.checks[check].layouts]
        return fit[: self.rng.choice((1, 2, 2, 3))]

    def _diagnose(self) -> Iterator[datetime]:
        book = self.bench.book
        self.tech = self.worker(self._skill())
        self.do(self.tech, stages.diagnose)
        yield self.wait(5, 20, self.tech)
        spent = 8.0
        for check, found in self.told.answers:
            if book.checks[check].where != "counter":
                self.do(self.tech, evidence.answer, check, found, book=book)
                yield self.wait(4, 10, self.tech)
        for made in range(7):
            best = self.job.likely[0]
            sure = best.probability if best.cause == self.told.cause else 0.0
            if sure > 0.8 or (made > 2 and sure > 0.5) or (made > 2 and self.told.cause == "other"):
                break
            offered = [c for c in evidence.checks(self.bench.state, self.job, book) if self._can(c.check)]
            if not offered:
                break
            check = book.checks[offered[0].check]
            self._open_up(check.covers_on(self._layout()))
            yield self.wait(offered[0].minutes * self.rng.uniform(0.9, 1.6), who=self.tech)
            found = outcome(book, self.told.cause, check.id, self.rng)
            self.do(self.tech, evidence.answer, check.id, found, book=book)
            spent += offered[0].minutes * self.rng.uniform(0.9, 1.4)
        yield self.wait(3, 15, self.tech)
        self.do(self.tech, stages.spend, float(5 * max(2, round(spent / 5))), "diagnosis")

    def _can(self, check: str) -> bool:
        return self.bench.book.checks[check].where in ("yard", "bay", "move")

    def _layout(self) -> str:
        return self.bench.state.machines[self.fleet.machine].layout.value

    def _open_up(self, covers: tuple[str, ...]) -> None:
        under = {id: cover.under for id, cover in self.bench.book.covers.items()}
        for cover in closure(covers, under):
            if cover not in self.job.covers_off:
                self.do(self.tech, stages.cover_off, cover)

    def _correction(self) -> str:
        if self.told.cause == "other":
            return self.told.correction
        known = self.bench.book.causes[self.told.cause].correction
        fit = [c for c in known if self._layout() in self.bench.book.corrections[c].layouts]
        return fit[0] if len(fit) == 1 or self.rng.random() < 0.75 else self.rng.choice(fit[1:])

    def _skill(self) -> str:
        if self.told.cause == "other":
            return "service"
        book = self.bench.book
        return book.corrections[book.causes[self.told.cause].correction[0]].skill

    def _find(self) -> None:
        words = self.told.other or self.rng.choice(self.given.found[self.told.cause])
        cause, fix, book = self.told.cause, self._correction(), self.bench.book
        self.do(self.tech, evidence.find, cause, words, fix, book=book)
        if fix not in book.corrections:
            return
        for part in book.corrections[fix].parts:
            line = self.given.catalogue.line(part.name, part.lead_class, self.fleet.model)
            quantity = part.quantity
            self.do(self.tech, parts.need, name=part.name, quantity=quantity, lead_class=part.lead_class, **line)

    def _service(self) -> None:
        """With many visits the service points that are due are done too, those behind covers before the others."""
        if Random(f"service {self.id}").random() > SERVICED:
            return
        state, machine = self.bench.state, self.bench.state.machines[self.fleet.machine]
        points = while_open.points(state, machine, self.bench.book)
        own = [job.id for job in state.closed.values() if job.machine == machine.id]
        wholes = [whole for id in own if (whole := state.load_closed(id))]
        line = age_line(machine)
        last = memory.last_done(each for whole, _ in wholes for each in memory.done_in(whole, line))
        found = memory.due_on(
            machine, points, last.get(machine.id, {}), memory.fleet([machine]), self.now.date(), within=7
        )
        first = sorted(found.dues, key=lambda due: (not due.hidden, -due.used, due.point))[:SERVICE_POINTS]
        if first:
            self.do(self.tech, while_open.add, tuple(due.point for due in first), book=self.bench.book)

    # -- the yes -----------------------------------------------------------------------------------

    def _sum(self, minutes: float) -> Decimal:
        """What so many minutes and the job's parts come to, with tax."""
        settings = self.bench.state.settings
        lines = self.bench.state.parts_of(self.id)
        goods = sum((p.price * p.quantity for p in lines if p.price and p.state is not PartState.RETURNED), Decimal(0))
        net = Decimal(str(minutes)) / 60 * settings.labour_rate + goods
        return (net * (1 + settings.tax_percent / 100)).quantize(CENT)

    def _minutes(self) -> float:
        """The book's minutes for the work to do, each cover once."""
        own = sum(operation.minutes for operation in self.job.operations)
        covers = [cover for operation in self.job.operations for cover in operation.covers]
        return own + access_minutes(covers, self.bench.book.covers) or 30.0

    def _agree(self) -> Iterator[datetime]:
        amount = self._sum(self._minutes())
        amount = max(amount, approval.known_cost(self.bench.state, self.job))
        self.do(self.desk(), approval.ask, amount)
        cheap = KIND[self.fleet.model] in ("lt", "bm")
        while self.job.stage is Stage.APPROVAL:
            yield self.wait(15, 500)
            if self.rng.random() < 0.25:
                self.do(self.desk(), approval.called)
                continue
            who, how = self._who(), self.rng.choice(self.given.counter["yes"])
            if cheap and amount > 450 and self.rng.random() < 0.5:
                why = self.rng.choice(self.given.counter["decline"])
                for cover in reversed(self.job.covers_off):
                    self.do(self.tech, stages.cover_on, cover)
                self.do(self.desk(), approval.decline, who, how, why)
                self.declined = True
            else:
                self.do(self.desk(), approval.give, who, how)

    def _who(self) -> str:
        if self.job.payer is Payer.WARRANTY:
            return "the importer's warranty desk"
        return str(self.given.counter["contacts"].get(self.customer, self.customer))

    # -- parts -------------------------------------------------------------------------------------

    def _parts(self) -> Iterator[datetime]:
        due: list[tuple[datetime, int]] = []
        yield self.wait(5, 90)
        lines: dict[str, list[PartLine]] = {}
        for line in self.bench.state.parts_of(self.id):
            lines.setdefault(line.supplier, []).append(line)
        for supplier, wanted in sorted(lines.items()):
            sent = leads.order(self.bench.given.settings, supplier, self.now, self.rng)
            ids, reference = tuple(line.id for line in wanted), leads.reference(supplier, self.rng)
            buyer = self.desk()
            self.bench.do(self.now, buyer, parts.order, ids, supplier, sent.promised, reference)
            due += [(sent.comes, line.id) for line in wanted]
            if sent.new_date:
                due.append((sent.told, -wanted[0].id))
                self._later_date = sent.new_date
            yield self.wait(2, 12)
        for moment, line in sorted(due):
            self.now = max(self.now, moment)
            yield self.now
            if line < 0:
                self.bench.do(self.now, "dell", parts.back_order, -line, self._later_date)
            else:
                quantity = self.bench.state.parts[line].quantity
                self.bench.do(self.now, self.desk(), parts.receive, line, quantity)
            yield self.wait(1)

    # -- work --------------------------------------------------------------------------------------

    def _repair(self) -> Iterator[datetime]:
        yield self.wait(20, 400)
        needs = {need for operation in self.job.operations for need in operation.needs}
        while True:
            self.tech = self.worker(self._skill())
            fit = [bay.id for bay, why_not in bays.fitting(self.bench.state, self.job) if not why_not]
            fit = [bay for bay in fit if bay != "5" and (bay != "3" or "clean bench" in needs)]
            if fit:
                self.do(self.tech, bays.put, fit[0] if needs else fit[-1])
                break
            yield self.wait(40, 90)
        yield self.wait(3, 15, self.tech)
        self.do(self.tech, stages.start_repair, self.tech)
        longer = self.rng.lognormvariate(0.03, 0.16) if self.job.operations else 1.0
        yield from self._work(self._minutes() * longer)
        yield self.wait(1, 10, self.tech)
        self.do(self.tech, bays.leave)
        yield self.wait(10, 60, self.tech)
        yield from self._road_test()

    def _work(self, minutes: float) -> Iterator[datetime]:
        yield self.wait(2, 10, self.tech)
        self._open_up(tuple(cover for operation in self.job.operations for cover in operation.covers))
        pieces = 1 if minutes < 150 else 2 if minutes < 330 else 3
        for piece in range(pieces):
            yield self.wait(minutes / pieces, who=self.tech)
            self.do(self.tech, stages.spend, float(max(5, round(minutes / pieces / 5) * 5)), "repair")
            if piece == pieces // 2:
                for line in list(self.bench.state.parts_of(self.id)):
                    if line.state is PartState.RECEIVED:
                        self.bench.do(self.now, self.tech, parts.fit, line.id)
                        yield self.wait(1, who=self.tech)
        yield self.wait(1, 4, self.tech)
        for operation in self.job.operations:
            self.do(self.tech, stages.work_done, operation.id)
        for cover in reversed(self.job.covers_off):
            self.do(self.tech, stages.cover_on, cover)
        yield self.wait(1, 5, self.tech)
        self.do(self.tech, stages.finish_repair)

    def _road_test(self) -> Iterator[datetime]:
        if self.rng.random() < 0.05:
            self.do(self.tech, stages.road_test, True, True, False, "brake at the end of its travel, set again")
            yield self.wait(15, 40, self.tech)
        note = self.rng.choice(("", "", "", "up and down the bank road warm, fine", "quiet now", "20 min, no drips"))
        self.do(self.tech, stages.road_test, True, True, True, note)
        yield self.wait(1, 3, self.tech)
        if self.told.cause != "other":
            self.do(self.tech, evidence.confirm, self.told.cause)

    def _leave(self) -> Iterator[datetime]:
        yield self.wait(60, self.rng.choice((300, 800, 1500, 3500)))
        spent = sum(spell.minutes for spell in self.job.spent if spell.what == "repair")
        limit = approval.agreed(self.job) or Decimal(0)
        total = Decimal(0) if self.job.payer is Payer.SHOP else min(self._sum(spent), limit)
        free = self.customer in self.given.counter["account"] or self.job.payer is not Payer.CUSTOMER
        paid = Decimal(0) if free else total
        word = (
            ""
            if paid == total
            else "Ines, on account"
            if self.job.payer is Payer.CUSTOMER
            else "Ines, to the warranty desk"
        )
        self.do(self.desk(), closing.collect, total, paid, word)

"""Random steps on a random shop: whatever is tried, what must always hold holds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, QuickShop
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from shopboard import shop
from shopboard.records import Job, PartLine, PartState, Payer, Refused, Stage, Step, Table, decode, encode, tag
from shopboard.shop.guards import OUTSTANDING, cannot, undone
from shopboard.shop.intake import Intake, NewCustomer, NewMachine
from shopboard.shop.moves import moves

D = Decimal
S = Stage

#: Every change of stage that the trade knows.
ONWARD: dict[Stage, set[Stage]] = {
    S.ARRIVED: {S.DIAGNOSED, S.DECLINED},
    S.DIAGNOSED: {S.APPROVAL, S.PARTS, S.READY, S.REPAIR, S.DECLINED},
    S.APPROVAL: {S.PARTS, S.READY, S.DECLINED, S.DIAGNOSED},
    S.PARTS: {S.APPROVAL, S.READY, S.DECLINED},
    S.READY: {S.APPROVAL, S.PARTS, S.REPAIR, S.DECLINED},
    S.REPAIR: {S.APPROVAL, S.PARTS, S.ROAD_TEST, S.DECLINED},
    S.ROAD_TEST: {S.REPAIR, S.READY, S.PARTS, S.COLLECT},
    S.COLLECT: {S.ROAD_TEST, S.REPAIR, S.READY, S.PARTS, S.COLLECTED},
}

jobs = st.integers(1, 4)
lines = st.integers(1, 4)
bays = st.sampled_from(["1", "2", "3", "9"])
people = st.sampled_from(["ana", "bo", "cy", "dee", "", "zed"])
words = st.sampled_from(["", " ", "seal", "[/b]", "\x1b[31m", "stone in the belt"])
sums = st.sampled_from([D(-1), D(0), D("35.5"), D(120), D(400), D("400.001"), D("NaN")])
causes = st.sampled_from([*BOOK.causes, "other", "gremlins"])
corrections = st.sampled_from([*BOOK.corrections, "", "wiped it"])
told = [(check.id, outcome) for check in BOOK.checks.values() for outcome in (*check.outcomes, "unsure")]
answers = st.sampled_from([*told, ("smell", "bad")])

Typed = tuple[tuple[Any, ...], dict[str, Any]]


def _takable(quick: QuickShop, job: Job) -> int:
    needed = (line for line in quick.state.parts_of(job.id) if line.state is PartState.NEEDED)
    return next(line.id for line in needed if shop.stock.takable(quick.state, line))


def _to_order(quick: QuickShop, job: Job) -> int:
    """A line that is needed and lies in no bin for the job."""
    lines = quick.state.parts_of(job.id)
    return next((line.id for line in lines if line.state is PartState.NEEDED and not line.reserved), 0)


def _line(quick: QuickShop, job: Job, *states: PartState) -> int:
    return next(line.id for line in quick.state.parts_of(job.id) if line.state in states)


def _to_send_back(quick: QuickShop, job: Job) -> int:
    return next(
        line.id
        for line in quick.state.parts_of(job.id)
        if line.state in (*OUTSTANDING, PartState.RECEIVED) or (line.state is PartState.FITTED and line.core)
    )


def _bay(quick: QuickShop, job: Job) -> str:
    return next(bay.id for bay, why_not in shop.bays.fitting(quick.state, job) if not why_not)


def _full_bay(quick: QuickShop, job: Job) -> str:
    for bay in quick.state.settings.bays:
        try:
            shop.bays.swap(quick.state, quick.now, "ana", job.id, bay.id)
            return bay.id
        except Refused:
            continue
    raise AssertionError("a swap is said to be possible, and none is")


def _able(quick: QuickShop, job: Job) -> str:
    """Somebody who can do the work; "bo" if nobody can, who is then refused for that."""
    return next((p.id for p in quick.state.settings.people if not cannot(p, undone(job))), "bo")


def well_typed(quick: QuickShop, job: Job, move: str) -> Typed:
    """What a careful person would type into this move, which may happen now."""
    book: dict[str, Any] = {"book": BOOK}
    on_order = (PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)
    typed: dict[str, Callable[[], Typed]] = {
        "evidence.tick": lambda: ((job.id, ("creeps",) if job.symptoms != ("creeps",) else ("shakes",)), book),
        "evidence.answer": lambda: ((job.id, "oil-level", "low"), book),
        "evidence.read": lambda: ((job.id, "case_drain_flow", 3.0, "L/min"), book),
        "evidence.find": lambda: ((job.id, "low-oil"), book),
        "evidence.withdraw": lambda: ((job.id, job.answers[0].check), book),
        "evidence.unfind": lambda: ((job.id, job.findings[0].cause), {}),
        "evidence.confirm": lambda: ((job.id, next(f.cause for f in job.findings if not f.confirmed)), {}),
        "evidence.remark": lambda: ((job.id, "hello"), {}),
        "parts.need": lambda: ((job.id, "S-1", "seal", 2), {}),
        "parts.order": lambda: (((_to_order(quick, job),), "north", None), {}),
        "parts.back_order": lambda: ((_line(quick, job, *on_order), None), {}),
        "parts.receive": lambda: ((_line(quick, job, *on_order), 1), {}),
        "parts.send_back": lambda: ((_to_send_back(quick, job),), {}),
        "parts.fit": lambda: ((_line(quick, job, PartState.RECEIVED),), {}),
        "stock.take": lambda: ((_takable(quick, job),), {}),
        "terms.pays": lambda: ((job.id, Payer.SHOP if job.payer is Payer.CUSTOMER else Payer.CUSTOMER), {}),
        "terms.keep_old_parts": lambda: ((job.id, not job.keep_old_parts), {}),
        "approval.ask": lambda: ((job.id, D(9000)), {}),
        "approval.give": lambda: ((job.id, "Mrs Hill", "phone"), {}),
        "approval.decline": lambda: ((job.id, "Mrs Hill", "phone", "too dear"), {}),
        "bays.put": lambda: ((job.id, _bay(quick, job)), {}),
        "bays.swap": lambda: ((job.id, _full_bay(quick, job)), {}),
        "stages.start_repair": lambda: ((job.id, _able(quick, job)), {}),
        "stages.spend": lambda: ((job.id, 10), {}),
        "stages.cover_off": lambda: ((job.id, f"cover {len(job.covers_off)}, {quick.now}"), {}),
        "stages.cover_on": lambda: ((job.id, job.covers_off[0]), {}),
        "stages.work_done": lambda: ((job.id, undone(job)[0].id), {}),
        "stages.road_test": lambda: ((job.id, True, True, True), {}),
        "dates.promise": lambda: ((job.id, None if job.promise else quick.now), {}),
        "dates.rush": lambda: ((job.id, not job.machine_down), {}),
        "closing.collect": lambda: ((job.id, D(5), D(5)), {}),
        "closing.machine_left": lambda: ((job.id, D(0), "Dee"), {}),
    }
    return typed.get(move, lambda: ((job.id,), {}))()


def rule_named(move: str) -> Callable[..., Step]:
    room, name = move.split(".")
    found: Callable[..., Step] = getattr(getattr(shop, room), name)
    return found


class Play(RuleBasedStateMachine):
    """Careful and careless people at one shop."""

    @initialize(overrun=st.sampled_from([D(0), D(15)]), bare=st.booleans())
    def open_the_shop(self, overrun: Decimal, bare: bool) -> None:
        self.quick = QuickShop(overrun_percent=overrun, instruments=("flow meter",) if bare else ())
        self.ages: dict[int, float] = {}
        for _ in range(3):
            self.a_plain_intake()

    def attempt(self, step: Callable[..., Step], *given: Any, by: str = "ana", **named: Any) -> None:
        """Try a step; a refusal must say why and what would do, and a step must be one the shop can keep."""
        self.quick.later(minutes=7)
        before = dict(self.quick.state.jobs)
        try:
            done = self.quick.do(step, *given, by=by, **named)
        except Refused as refused:
            assert refused.why and refused.would_do
            return
        assert done.why and (done.subject is None or tag(done.subject) in done.why)
        for record in done.puts:
            assert decode(encode(record), type(record)) == record
            if isinstance(record, Job) and record.id in before:
                self._went(before[record.id], record)

    def _went(self, before: Job, after: Job) -> None:
        if after.stage is before.stage:
            assert after.since == before.since
        else:
            assert after.stage in ONWARD[before.stage], f"{before.stage} → {after.stage}"
            assert after.since == self.quick.now
        if after.stage is S.REPAIR and before.stage is not S.ROAD_TEST and before.stage is not S.COLLECT:
            assert after.payer is Payer.SHOP or (after.approval and after.approval.given)

    # -- what people do -----------------------------------------------------------------------------------------------

    @rule(
        customer=st.sampled_from([1, 2, NewCustomer(name="Golf", phone="2"), NewCustomer(name="Golf")]),
        machine=st.one_of(st.integers(1, 4), st.sampled_from(["kestrel-20", "duo-z", "ghost"]).map(str)),
        serial=st.sampled_from(["", "A", "B"]),
        hours=st.sampled_from([None, 0.0, 500.0, 500.1, 501.0, -3.0, float("nan"), 7e4]),
        flags=st.tuples(st.booleans(), st.booleans()),
        symptoms=st.sampled_from([(), ("weak-drive",), ("shakes", "creeps"), ("sings",)]),
        payer=st.sampled_from(list(Payer)),
        spend=st.sampled_from([None, D(0), D(50), D(-2)]),
        complaint=words,
    )
    def take_in(
        self,
        customer: int | NewCustomer,
        machine: int | str,
        serial: str,
        hours: float | None,
        flags: tuple[bool, bool],
        symptoms: tuple[str, ...],
        payer: Payer,
        spend: Decimal | None,
        complaint: str,
    ) -> None:
        what = NewMachine(model=machine, serial=serial) if isinstance(machine, str) else machine
        given = Intake(
            customer=customer, machine=what, complaint=complaint, hours=hours, new_meter=flags[0], new_owner=flags[1],
            symptoms=symptoms, payer=payer, spend_before_call=spend,
        )  # fmt: skip
        self.attempt(shop.intake.take_in, given, book=BOOK, by="cy")

    @rule()
    def a_plain_intake(self) -> None:
        count = len(self.quick.state.machines)
        given = Intake(
            customer=NewCustomer(name=f"C {count}", phone=f"{count}9"),
            machine=NewMachine(model=("kestrel-20", "duo-z")[count % 2]),
            complaint="slow",
            symptoms=("weak-drive",),
        )
        self.attempt(shop.intake.take_in, given, book=BOOK, by="cy")

    @rule(quantity=st.sampled_from([-1, 0, 1, 3]), name=words, bin=st.sampled_from(["", "A-1"]))
    def lay_into_a_bin(self, quantity: int, name: str, bin: str) -> None:
        self.attempt(shop.stock.lay, "S-1", quantity, name=name, bin=bin)

    @rule(line=lines, step=st.sampled_from(["reserve", "release", "take", "put_away"]))
    def handle_a_bin(self, line: int, step: str) -> None:
        self.attempt(getattr(shop.stock, step), line)

    @rule(entry=st.integers(1, 2), count=st.sampled_from([-1, 0, 2]))
    def count_a_bin(self, entry: int, count: int) -> None:
        self.attempt(shop.stock.count, entry, count)

    @invariant()
    def no_bin_promises_more_than_it_holds(self) -> None:
        state = self.quick.state
        for number in {entry.number for entry in state.stock.values()} | {line.number for line in state.parts.values()}:
            assert shop.stock.reserved(state, number) <= shop.stock.lying(state, number)

    @precondition(lambda self: self.quick.state.jobs)
    @rule(data=st.data())
    def a_careful_move(self, data: st.DataObject) -> None:
        """A move said to be possible is, typed with care; one said not to be is refused for just that reason."""
        job = data.draw(st.sampled_from(sorted(self.quick.state.jobs.values(), key=lambda job: job.id)))
        move = data.draw(st.sampled_from([m for m in moves(self.quick.state, job, self.quick.now) if not m.why_not]))
        given, named = well_typed(self.quick, job, move.name)
        if move.name in ("bays.put", "stages.start_repair") and "bo" in given and cannot_do(self.quick, job, "bo"):
            self.attempt(rule_named(move.name), *given, **named)
            return
        seen = self.quick.state.seq
        self.attempt(rule_named(move.name), *given, **named)
        assert self.quick.state.seq == seen + 1, f"{move.name} was said to be possible"

    @rule(job=st.integers(1, 4), steps=st.integers(1, 12))
    def moves_onward(self, job: int, steps: int) -> None:
        """Up to so many steps that each bring the job nearest to collected."""
        for _ in range(steps):
            if job in self.quick.state.jobs:
                self._one_onward(self.quick.job(job))

    def _one_onward(self, job: Job) -> None:
        way = [
            "closing.collect", "closing.machine_left", "stages.finish_repair", "stages.work_done", "stages.cover_on",
            "parts.fit", "parts.receive", "parts.order", "stages.start_repair", "approval.give", "stages.diagnose",
        ]  # fmt: skip
        if job.stage is not S.COLLECT:
            way += ["stages.road_test"]
        if job.stage is S.DIAGNOSED:
            way += ["approval.ask"]
        if not job.bay:
            way += ["bays.put"]
        way += ["evidence.confirm" if job.findings else "evidence.find"]
        possible = {m.name for m in moves(self.quick.state, job, self.quick.now) if not m.why_not}
        name = next((name for name in way if name in possible), "evidence.remark")
        given, named = well_typed(self.quick, job, name)
        self.attempt(rule_named(name), *given, **named)

    @rule(job=jobs, person=people, by=people)
    def begin(self, job: int, person: str, by: str) -> None:
        self.attempt(shop.stages.diagnose, job, person, by=by)
        self.attempt(shop.stages.start_repair, job, person, by=by)

    @rule(job=jobs, bay=bays, person=people, swap=st.booleans())
    def into_a_bay(self, job: int, bay: str, person: str, swap: bool) -> None:
        if swap:
            self.attempt(shop.bays.swap, job, bay)
        else:
            self.attempt(shop.bays.put, job, bay, person)

    @rule(job=jobs)
    def out_of_the_bay(self, job: int) -> None:
        self.attempt(shop.bays.leave, job)

    @rule(job=jobs, answer=answers, withdrawn=answers)
    def answer(self, job: int, answer: tuple[str, str], withdrawn: tuple[str, str]) -> None:
        self.attempt(shop.evidence.answer, job, *answer, book=BOOK)
        self.attempt(shop.evidence.withdraw, job, withdrawn[0], book=BOOK)

    @rule(job=jobs, value=st.floats(), unit=st.sampled_from(["L/min", "bar", ""]), error=st.floats(-1, 2))
    def read(self, job: int, value: float, unit: str, error: float) -> None:
        self.attempt(shop.evidence.read, job, "case_drain_flow", value, unit, error, book=BOOK)

    @rule(job=jobs, cause=causes, text=words, correction=corrections, then=st.sampled_from(["", "confirm", "unfind"]))
    def find(self, job: int, cause: str, text: str, correction: str, then: str) -> None:
        self.attempt(shop.evidence.find, job, cause, text, correction, book=BOOK)
        if then:
            self.attempt(getattr(shop.evidence, then), job, cause)

    @rule(job=jobs, amount=sums, limit=st.one_of(st.none(), sums), yes=st.sampled_from([True, False, None]), by=words)
    def ask(self, job: int, amount: Decimal, limit: Decimal | None, yes: bool | None, by: str) -> None:
        self.attempt(shop.approval.ask, job, amount)
        if yes is True:
            self.attempt(shop.approval.give, job, by, "phone", limit)
        elif yes is False:
            self.attempt(shop.approval.decline, job, by, "phone", "too dear")

    @rule(job=jobs, name=words, quantity=st.integers(0, 3), price=st.one_of(st.none(), sums), core=st.booleans())
    def need(self, job: int, name: str, quantity: int, price: Decimal | None, core: bool) -> None:
        self.attempt(shop.parts.need, job, "S-1", name, quantity, price=price, core=core)

    @rule(job=jobs, comes=st.integers(0, 2))
    def a_part_for_work_in_hand(self, job: int, comes: int) -> None:
        """A part is missed, ordered, and comes whole, in part or not yet; the technician may say it stops the work."""
        line = self.quick.state.next_ids.get(Table.PARTS, 1)
        self.attempt(shop.parts.need, job, "S-9", "filter", 2, price=D("12.50"), core=comes == 2)
        self.attempt(shop.parts.order, (line,), "north", None)
        self.attempt(shop.stages.wait_for_parts, job)
        for _ in range(comes):
            self.attempt(shop.parts.receive, line, 1)

    @rule(line=lines, other=lines, days=st.integers(-2, 5), supplier=st.sampled_from(["north", "ghost"]))
    def order(self, line: int, other: int, days: int, supplier: str) -> None:
        expected = date(2026, 3, 2) + timedelta(days=days)
        self.attempt(shop.parts.order, (line, other), supplier, expected)
        self.attempt(shop.parts.order, (line,), supplier, expected)

    @rule(line=lines, quantity=st.integers(0, 3), late=st.booleans())
    def arrive(self, line: int, quantity: int, late: bool) -> None:
        if late:
            self.attempt(shop.parts.back_order, line, None)
        self.attempt(shop.parts.receive, line, quantity)

    @rule(line=lines, back=st.booleans())
    def fit(self, line: int, back: bool) -> None:
        self.attempt(shop.parts.send_back if back else shop.parts.fit, line)

    @rule(job=jobs, cover=st.sampled_from(["deck", "plate"]), off=st.booleans())
    def cover(self, job: int, cover: str, off: bool) -> None:
        self.attempt(shop.stages.cover_off if off else shop.stages.cover_on, job, cover)

    @rule(job=jobs, passed=st.booleans(), interlocks=st.booleans(), brake=st.booleans())
    def test(self, job: int, passed: bool, interlocks: bool, brake: bool) -> None:
        self.attempt(shop.stages.finish_repair, job)
        self.attempt(shop.stages.road_test, job, passed, interlocks, brake)

    @rule(job=jobs, total=sums, paid=sums, word=words)
    def close(self, job: int, total: Decimal, paid: Decimal, word: str) -> None:
        self.attempt(shop.closing.collect, job, total, paid, word)
        self.attempt(shop.closing.machine_left, job, paid, word)

    @rule(job=jobs, text=words)
    def talk(self, job: int, text: str) -> None:
        self.attempt(shop.evidence.remark, job, text)
        self.attempt(shop.stages.wait_for_parts, job)

    @rule(days=st.integers(1, 60))
    def time_passes(self, days: int) -> None:
        self.quick.later(days=days)

    # -- what always holds --------------------------------------------------------------------------------------------

    @invariant()
    def one_machine_in_a_bay(self) -> None:
        held = Counter(job.bay for job in self.quick.state.jobs.values() if job.bay)
        assert all(count == 1 for count in held.values())
        assert all(self.quick.state.settings.bay(bay) for bay in held)
        assert all((job.bay == "") == (job.bay_since is None) for job in self.quick.state.jobs.values())

    @invariant()
    def one_job_for_a_machine(self) -> None:
        assert max(Counter(job.machine for job in self.quick.state.jobs.values()).values(), default=0) <= 1

    @invariant()
    def repair_is_agreed_and_in_a_bay(self) -> None:
        for job in self.quick.state.jobs.values():
            if job.stage is S.REPAIR:
                assert job.bay and job.person
            if job.stage in (S.REPAIR, S.ROAD_TEST, S.COLLECT):
                assert job.payer is Payer.SHOP or shop.approval.agreed(job) is not None

    @invariant()
    def waiting_for_parts_is_waiting_for_a_part(self) -> None:
        for job in self.quick.state.jobs.values():
            missing = [line for line in self.quick.state.parts_of(job.id) if line.state in OUTSTANDING]
            assert job.stage is not S.PARTS or missing
            assert job.stage is not S.READY or not missing

    @invariant()
    def quantities_hold_together(self) -> None:
        for line in self._all_lines():
            assert 0 <= line.received <= line.quantity and line.quantity >= 1
            if line.state in (PartState.NEEDED, PartState.ORDERED):
                assert line.received == 0
            if line.state is PartState.PARTLY_RECEIVED:
                assert 0 < line.received < line.quantity
            if line.state in (PartState.RECEIVED, PartState.FITTED):
                assert line.received == line.quantity and line.received_at
            if line.state not in (PartState.NEEDED, PartState.RETURNED):
                assert line.from_bin or (line.ordered_at and line.supplier)
            assert line.job is None or line.job in self.quick.state.jobs or line.job in self.quick.filed

    def _all_lines(self) -> list[PartLine]:
        return [*self.quick.state.parts.values(), *(line for _, lines in self.quick.filed.values() for line in lines)]

    @invariant()
    def nothing_leaves_unsafe_or_unsettled(self) -> None:
        for job, its_lines in self.quick.filed.values():
            assert job.left and job.closed_at and job.settlement and not job.bay and not job.covers_off
            assert job.settlement.paid == job.settlement.total or job.settlement.released_on_word_of.strip()
            assert job.settlement.paid <= job.settlement.total
            if job.stage is S.COLLECTED:
                test = job.road_test
                assert test and test.passed and test.interlocks_proved and test.brake_proved
                assert all(operation.done for operation in job.operations)
                assert all(line.state in (PartState.FITTED, PartState.RETURNED) for line in its_lines)
                assert any(f.confirmed or (f.cause == "other" and f.text.strip()) for f in job.findings)
                limit = shop.approval.allowed(self.quick.state, job)
                assert job.payer is Payer.SHOP or (limit is not None and job.settlement.total <= limit)
            else:
                assert job.stage is S.DECLINED

    @invariant()
    def open_and_closed_are_apart(self) -> None:
        assert not self.quick.state.jobs.keys() & self.quick.state.closed.keys()
        for job in self.quick.state.jobs.values():
            assert job.stage in S and job.left is None
            assert (job.closed_at is not None) == (job.stage is S.DECLINED)
            assert sum(cause.probability for cause in job.likely) <= 1 + 1e-9

    @invariant()
    def machines_never_get_younger(self) -> None:
        for machine in self.quick.state.machines.values():
            age = machine.age()
            assert age is None or age >= self.ages.get(machine.id, 0.0)
            self.ages[machine.id] = age or self.ages.get(machine.id, 0.0)


def cannot_do(quick: QuickShop, job: Job, person_id: str) -> bool:
    person = quick.state.settings.person(person_id)
    return person is None or bool(cannot(person, undone(job)))


def play(examples: int, steps: int) -> None:
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        Play,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_random_play() -> None:
    play(150, 50)


@pytest.mark.long
def test_long_random_play() -> None:
    play(1500, 120)

"""Two terminals doing drawn steps, with undo, checkpoints and reopening between, against a plain model."""

from __future__ import annotations

import contextlib
from datetime import timedelta

import msgspec
import pytest
from aids import store_steps as steps
from aids.store_steps import START
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

from shopboard.records import Refused, Table, encode

PEOPLE = ("ana", "bo")


class Terminals(RuleBasedStateMachine):
    """`past` is the whole picture after each change, as the model knows it; `made` who did what and what it touched."""

    engine = None

    @initialize()
    def begin(self):
        self.day = START
        self.shop = self.engine()
        self.stores = [self.shop.open(self._now), self.shop.open(self._now)]
        self.tables = {table: {} for table in Table}
        self.made: list[dict] = []
        self.given = dict.fromkeys(Table, 0)

    def teardown(self):
        if hasattr(self, "shop"):
            self.shop.let_go()

    def _now(self):
        self.day += timedelta(hours=31)
        return self.day

    def _keep(self, change):
        """Let the model follow a change by its own reading of the operations."""
        before = {}
        for op in change.ops:
            before[op.table, op.id] = self.tables[op.table].get(op.id)
            if hasattr(op, "data"):
                self.tables[op.table][op.id] = op.data
                self.given[op.table] = max(self.given[op.table], op.id)
            else:
                self.tables[op.table].pop(op.id, None)
        self.made.append({"change": change, "before": before, "undone": False})
        assert change.seq == len(self.made)

    def _commit(self, which, action):
        store = self.stores[which]
        with contextlib.suppress(Refused):
            self._keep(store.commit(PEOPLE[which], action))

    def _job(self, draw):
        known = sorted(self.tables[Table.JOBS])
        return known[draw % len(known)] if known else 1

    which = st.integers(0, 1)
    some = st.integers(0, 30)

    @rule(which=which, word=st.text(max_size=8))
    def take_in(self, which, word):
        self._commit(which, steps.take_in(word.encode("utf-8", "ignore").decode()))

    @rule(which=which, job=some)
    def need(self, which, job):
        self._commit(which, steps.need(self._job(job), "S-1"))

    @rule(which=which, job=some)
    def collect(self, which, job):
        self._commit(which, steps.collect(self._job(job)))

    @rule(which=which, job=some)
    def remark(self, which, job):
        self._commit(which, steps.remark(self._job(job), "said"))

    @rule(which=which, job=some, bay=st.sampled_from(["1", "2"]))
    def stand(self, which, job, bay):
        self._commit(which, steps.stand(self._job(job), bay))

    @rule(which=which, back=st.integers(0, 8))
    def undo_by_number(self, which, back):
        seq = len(self.made) - back
        store = self.stores[which]
        if seq < 1:
            return
        one = self.made[seq - 1]
        later = [m for m in self.made[seq:] if not m["undone"] and m["change"].undoes is None]
        blocked = one["undone"] or any(m["before"].keys() & one["before"].keys() for m in later)
        try:
            change = store.undo(PEOPLE[which], seq)
        except Refused as refused:
            hanging = any(word in refused.why for word in ("needs", "stands in"))
            assert blocked or hanging or one["change"].undoes is not None, refused
            return
        assert not blocked
        self._undone(change, one)

    @rule(which=which)
    def undo_own(self, which):
        store = self.stores[which]
        own = [
            m for m in self.made if m["change"].by == PEOPLE[which] and m["change"].undoes is None and not m["undone"]
        ]
        store.refresh()
        told = store.undoable(PEOPLE[which])
        assert (told.seq if told else None) == (own[-1]["change"].seq if own else None)
        try:
            change = store.undo(PEOPLE[which])
        except Refused:
            return
        assert change.undoes == own[-1]["change"].seq
        self._undone(change, own[-1])

    def _undone(self, change, one):
        """What an undo must leave: each touched record as it was before."""
        self._keep(change)
        for (table, id), data in one["before"].items():
            assert self.tables[table].get(id) == data
        self._mark(one)

    def _mark(self, one, undone=True):
        """An undo undone lets what it undid stand again, however long the chain is."""
        one["undone"] = undone
        again = one["change"].undoes
        if again is not None:
            self._mark(self.made[again - 1], not undone)

    @rule(which=which)
    def checkpoint(self, which):
        self.stores[which].checkpoint()

    @rule(which=which)
    def reopen(self, which):
        self.stores[which].close()
        self.stores[which] = self.shop.open(self._now)

    @precondition(lambda self: hasattr(self, "stores"))
    @invariant()
    def both_terminals_show_what_must_be(self):
        for store in self.stores:
            store.refresh()
            seen = steps.picture(store.state)
            assert seen["seq"] == len(self.made)
            assert seen["next"] == {table: self.given[table] + 1 for table in Table}
            whole = seen["whole"].values()
            assert {job.id: (job, lines) for job, lines in store.closed_jobs()} == seen["whole"]
            jobs = [*seen["jobs"].values(), *(job for job, _ in whole)]
            parts = [*seen["parts"].values(), *(line for _, lines in whole for line in lines)]
            assert {job.id: plain(job) for job in jobs} == self.tables[Table.JOBS]
            assert {line.id: plain(line) for line in parts} == self.tables[Table.PARTS]
            assert {id: plain(one) for id, one in seen["customers"].items()} == self.tables[Table.CUSTOMERS]
            assert {job.id for job, _ in whole} == {
                id for id, data in self.tables[Table.JOBS].items() if data.get("stage") == "collected"
            }
            assert all(line.job in seen["jobs"] for line in seen["parts"].values())


def plain(record):
    """The record as plain data, as it is kept."""
    return msgspec.json.decode(encode(record))


def _run(factory, examples, steps_each):
    machine = type("Terminals", (Terminals,), {"engine": staticmethod(factory)})
    checks = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps_each,
            deadline=None,
            suppress_health_check=checks,
            derandomize=True,
        ),
    )


def test_two_terminals_always_show_what_must_be(new_engine):
    _run(new_engine, 25, 25)


@pytest.mark.long
def test_two_terminals_always_show_what_must_be_for_long(new_engine):
    _run(new_engine, 150, 50)

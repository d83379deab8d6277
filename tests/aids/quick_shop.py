"""A small shop in memory for tests of the rules: what a step keeps acts at once, as every store promises."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import msgspec
import pytest

from aids.small_book import small_book
from shopboard import shop
from shopboard.records import (
    Bay,
    ClosedJob,
    Closure,
    Customer,
    Job,
    Layout,
    Machine,
    Model,
    PartLine,
    Person,
    Refused,
    Return,
    Role,
    Settings,
    ShopState,
    Stage,
    Step,
    Stock,
    Supplier,
    Table,
)
from shopboard.shop.intake import Intake, NewCustomer, NewMachine

BOOK = small_book()
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
TABLES: dict[type, Table] = {
    Customer: Table.CUSTOMERS,
    Machine: Table.MACHINES,
    Job: Table.JOBS,
    PartLine: Table.PARTS,
    Stock: Table.STOCK,
    Return: Table.RETURNS,
    Closure: Table.CLOSURES,
}

SETTINGS = Settings(
    name="Quick Shop",
    zone="Europe/Vienna",
    labour_rate=Decimal(60),
    tax_percent=Decimal(20),
    overrun_percent=Decimal(10),
    comeback_days=90,
    bays=(
        Bay(id="1", name="bay 1", can=("lift",)),
        Bay(id="2", name="bay 2", can=("lift", "clean bench")),
        Bay(id="3", name="yard"),
    ),
    people=(
        Person(id="ana", name="Ana", roles=(Role.TECHNICIAN, Role.COUNTER), skills=("hydrostat", "driveline")),
        Person(id="bo", name="Bo", roles=(Role.TECHNICIAN,), skills=("engine",)),
        Person(id="cy", name="Cy", roles=(Role.COUNTER,)),
        Person(id="dee", name="Dee", roles=(Role.OWNER,)),
    ),
    suppliers=(Supplier(id="north", name="North Parts"),),
)

MODELS = {
    "kestrel-20": Model(
        id="kestrel-20",
        name="Kestrel 20",
        layout=Layout.IN_LINE,
        lacks=("charge pump",),
        data={"case_drain_limit": "4 L/min"},
    ),
    "duo-z": Model(id="duo-z", name="Duo Z", layout=Layout.SPLIT),
}

KEPT_BY = {Table.CUSTOMERS: "customers", Table.MACHINES: "machines", Table.JOBS: "jobs", Table.PARTS: "parts"}


class QuickShop:
    """The shop, its clock and what was committed so far, step by step."""

    def __init__(self, **changes: Any) -> None:
        self.state = ShopState(settings=msgspec.structs.replace(SETTINGS, **changes), models=MODELS)
        self.state.load_closed = lambda id: self.filed.get(id)
        self.filed: dict[int, tuple[Job, tuple[PartLine, ...]]] = {}
        self.now = START
        self.steps: list[Step] = []

    def later(self, **passed: float) -> None:
        """The clock goes on."""
        self.now += timedelta(**passed)

    def do(self, rule: Callable[..., Step], *given: Any, by: str = "ana", **named: Any) -> Step:
        """Run a rule and keep what it answers."""
        step = rule(self.state, self.now, by, *given, **named)
        for record in step.puts:
            self._keep(record)
        for job in [job for job in self.state.jobs.values() if job.left is not None]:
            self._file(job)
        self.state.seq += 1
        self.steps.append(step)
        return step

    def _keep(self, record: Any) -> None:
        table = TABLES[type(record)]
        getattr(self.state, table.value)[record.id] = record
        self.state.next_ids[table] = max(self.state.next_id(table), record.id + 1)
        if table is Table.JOBS:
            self.state.closed.pop(record.id, None)

    def _file(self, job: Job) -> None:
        lines = tuple(self.state.parts_of(job.id)) or self.filed.get(job.id, (job, ()))[1]
        self.filed[job.id] = (self.state.jobs.pop(job.id), lines)
        for line in lines:
            self.state.parts.pop(line.id, None)
        assert job.closed_at is not None
        self.state.closed[job.id] = ClosedJob(
            id=job.id,
            customer=job.customer,
            machine=job.machine,
            complaint=job.complaint,
            causes=tuple(finding.cause for finding in job.findings if finding.confirmed),
            stage=job.stage,
            arrived=job.arrived,
            closed_at=job.closed_at,
        )

    def refuses(self, rule: Callable[..., Step], *given: Any, why: str, by: str = "ana", **named: Any) -> Refused:
        """The rule refuses, with `why` somewhere in what it says, and says what would do; nothing is kept."""
        with pytest.raises(Refused) as told:
            rule(self.state, self.now, by, *given, **named)
        assert why in str(told.value), str(told.value)
        assert told.value.why and told.value.would_do
        return told.value

    # -- short ways to where a test begins ----------------------------------------------------------------------------

    def job(self, job_id: int = 1) -> Job:
        """The open job with this number, as it stands now."""
        return self.state.jobs[job_id]

    def line(self, line_id: int = 1) -> PartLine:
        """The line of parts with this number, as it stands now."""
        return self.state.parts[line_id]

    def take_in(self, **given: Any) -> Job:
        """A machine comes in; what is not given is usual."""
        number = self.state.next_id(Table.MACHINES)
        usual: dict[str, Any] = {
            "customer": 1 if self.state.customers else NewCustomer(name="Hill Vineyard", phone="0664 100"),
            "machine": NewMachine(model="kestrel-20", serial=f"K-{number}"),
            "hours": 500.0,
            "complaint": "slow going up the hill when warm",
        }
        step = self.do(shop.intake.take_in, Intake(**{**usual, **given}), book=BOOK, by="cy")
        assert step.subject is not None
        return self.job(step.subject)

    def to(self, stage: Stage, bay: str = "2", **given: Any) -> int:
        """A new job brought to this stage by the usual steps; its number."""
        id = self.take_in(**given).id
        steps: list[tuple[Stage, Callable[[], Any]]] = [
            (Stage.DIAGNOSED, lambda: self.do(shop.stages.diagnose, id)),
            (Stage.APPROVAL, lambda: self.do(shop.approval.ask, id, Decimal(400))),
            (Stage.READY, lambda: self.said_yes(id)),
            (Stage.REPAIR, lambda: (self.do(shop.bays.put, id, bay), self.do(shop.stages.start_repair, id))),
            (Stage.ROAD_TEST, lambda: self.do(shop.stages.finish_repair, id)),
            (Stage.COLLECT, lambda: self.do(shop.stages.road_test, id, True, True, True)),
        ]
        for reached, step in steps:
            if self.job(id).stage is stage:
                break
            step()
            assert self.job(id).stage in (reached, Stage.READY), f"no further than {self.job(id).stage}"
        assert self.job(id).stage is stage
        return id

    def said_yes(self, job_id: int) -> None:
        """The customer says yes, where anybody has to."""
        if self.job(job_id).stage is Stage.APPROVAL:
            self.do(shop.approval.give, job_id, "Mr Hill", "phone")

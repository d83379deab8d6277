"""What was written once must be read for ever: lines as the first format wrote them, and what a version says."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from shopboard.records import (
    FORMAT,
    Change,
    Customer,
    FieldError,
    Job,
    Layout,
    Machine,
    PartLine,
    PartState,
    Payer,
    Put,
    Remove,
    Stage,
    Table,
    decode,
    encode,
)

FIRST_JOB = """{
 "id": 412, "customer": 3, "machine": 5, "arrived": "2026-01-05T08:30:00Z", "complaint": "creeps", "stage": "road test",
 "since": "2026-01-06T10:00:00Z", "symptoms": ["creeps"],
 "answers": [{"check": "hot-or-cold", "outcome": "hot", "at": "2026-01-05T08:31:00Z", "by": "cy"}],
 "readings": [{"quantity": "charge", "value": 9.5, "unit": "bar", "error": 0.2, "at": "2026-01-05T09:00:00Z",
  "by": "ana"}],
 "likely": [{"cause": "neutral-out", "name": "neutral setting out", "probability": 0.62}],
 "findings": [{"cause": "other", "text": "bent rod", "at": "2026-01-05T11:00:00Z", "by": "ana", "confirmed": true}],
 "operations": [{"id": "set-neutral", "name": "set neutral", "minutes": 30.0, "covers": ["floor-plate"],
  "needs": ["lift"], "skill": "hydrostat", "done": true}],
 "hours": 1412.5, "payer": "warranty", "diagnostic_fee": "45.00", "spend_before_call": "150",
 "approval": {"asked": "300.00", "asked_at": "2026-01-05T12:00:00Z", "asked_by": "dee", "given": true,
  "limit": "330", "said_by": "Mrs Hill", "how": "phone", "at": "2026-01-05T13:00:00Z",
  "calls": ["2026-01-05T12:10:00Z"]},
 "machine_down": true, "bay": "2", "bay_since": "2026-01-06T07:00:00Z", "person": "ana",
 "promise": "2026-01-08T16:00:00Z", "notes": [{"text": "handle with care", "at": "2026-01-05T08:32:00Z", "by": "cy"}],
 "spent": [{"by": "ana", "at": "2026-01-06T09:00:00Z", "minutes": 42.0, "bay": "2", "what": "linkage"}],
 "road_test": {"passed": false, "interlocks_proved": true, "brake_proved": false, "at": "2026-01-06T11:00:00Z",
  "by": "ana", "note": "still creeps"},
 "comeback": {"of": 377, "same": true}}"""


def test_a_job_of_the_first_format() -> None:
    job = decode(FIRST_JOB, Job)
    assert (job.tag, job.stage, job.payer, job.hours) == ("T-0412", Stage.ROAD_TEST, Payer.WARRANTY, 1412.5)
    assert job.arrived == datetime(2026, 1, 5, 8, 30, tzinfo=UTC)
    assert job.approval is not None and job.approval.limit == Decimal(330) and len(job.approval.calls) == 1
    assert job.operations[0].done and job.findings[0].confirmed and job.road_test is not None
    assert job.comeback is not None and job.comeback.of == 377
    assert decode(encode(job), Job) == job


def test_other_records_of_the_first_format() -> None:
    customer = decode('{"id":3,"name":"Hill Vineyard","phone":"0664 100"}', Customer)
    assert customer == Customer(id=3, name="Hill Vineyard", phone="0664 100")
    machine = decode(
        '{"id":5,"customer":3,"model":"kestrel-20","serial":"K-1","layout":"in-line","duty":"severe",'
        '"readings":[{"at":"2026-01-05T08:30:00Z","hours":1412.5}],"first_seen_used":true}',
        Machine,
    )
    assert (machine.layout, machine.duty, machine.age()) == (Layout.IN_LINE, "severe", 1412.5)
    line = decode(
        '{"id":9,"job":412,"number":"S-1","name":"seal kit","quantity":2,"received":1,"state":"back-ordered",'
        '"supplier":"north","price":"18.40","needed_at":"2026-01-05T11:00:00Z","expected":"2026-01-20","core":true}',
        PartLine,
    )
    assert (line.state, line.price, line.expected) == (PartState.BACK_ORDERED, Decimal("18.40"), date(2026, 1, 20))


def test_a_change_without_a_version_is_of_the_first() -> None:
    line = (
        '{"s":12,"at":"2026-01-05T08:30:00Z","by":"cy","why":"T-0001 taken in.",'
        '"ops":[["put","customers",3,{"id":3,"name":"Hill"}],["remove","jobs",4]],"subject":1}'
    )
    change = decode(line, Change)
    assert (change.seq, change.format, change.subject, change.undoes) == (12, 1, 1, None)
    assert change.ops == (
        Put(table=Table.CUSTOMERS, id=3, data={"id": 3, "name": "Hill"}),
        Remove(table=Table.JOBS, id=4),
    )


@pytest.mark.parametrize("version", [2, 7])
def test_a_change_says_the_version_it_was_written_with(version: int) -> None:
    at = datetime(2026, 1, 5, tzinfo=UTC)
    change = Change(seq=1, at=at, by="cy", why="w", ops=(), format=version)
    assert json.loads(encode(change))["v"] == version
    assert decode(encode(change), Change).format == version


def test_the_version_of_today_is_known() -> None:
    assert FORMAT >= 1


@pytest.mark.parametrize(
    "op", ['["put","jobs",1]', '["frob","jobs",1,{}]', '["put","bays",1,{}]', '["remove","jobs","x"]']
)
def test_an_operation_nobody_knows_is_told_with_its_place(op: str) -> None:
    line = f'{{"s":1,"at":"2026-01-05T08:30:00Z","by":"cy","why":"w","ops":[["remove","jobs",1],{op}]}}'
    with pytest.raises(FieldError) as told:
        decode(line, Change, "line 3")
    assert told.value.path.startswith("ops[1]") and str(told.value).startswith("line 3: ops[1]")

"""Records in and out: what is wrong is told with the path of the field, and what is right comes back equal."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.records import (
    Answer,
    Approval,
    Change,
    Customer,
    FieldError,
    Finding,
    HourReading,
    Job,
    Layout,
    Likely,
    Machine,
    Model,
    Note,
    Operation,
    PartLine,
    PartState,
    Payer,
    Person,
    Put,
    Reading,
    Remove,
    RoadTest,
    Role,
    Settings,
    Settlement,
    Spell,
    Stage,
    Table,
    decode,
    encode,
    to_record,
)

AT = "2026-01-05T08:30:00Z"
JOB: dict[str, Any] = {"id": 7, "customer": 1, "machine": 2, "arrived": AT, "since": AT, "complaint": "slow"}
ANSWER: dict[str, Any] = {"check": "oil-level", "outcome": "low", "at": AT, "by": "ana"}

WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"id": "7"}, "id", "Expected `int`, got `str`"),
    ({"id": 7.5}, "id", "Expected `int`"),
    ({"complaint": None}, "complaint", "Expected `str`, got `null`"),
    ({"stage": "lost"}, "stage", "Invalid enum value 'lost'"),
    ({"payer": "nobody"}, "payer", "Invalid enum value 'nobody'"),
    ({"arrived": "2026-01-05T08:30:00"}, "arrived", "timezone"),
    ({"arrived": "yesterday"}, "arrived", "Invalid"),
    ({"diagnostic_fee": "dear"}, "diagnostic_fee", "Invalid decimal"),
    ({"answers": [ANSWER, {**ANSWER, "by": 3}]}, "answers[1].by", "Expected `str`, got `int`"),
    ({"answers": [{**ANSWER, "colour": "red"}]}, "answers[0]", "unknown field `colour`"),
    ({"answers": [{"check": "x"}]}, "answers[0]", "missing required field `outcome`"),
    ({"operations": [{"id": "a", "name": "b", "minutes": -1}]}, "operations[0].minutes", ">= 0"),
    ({"likely": [{"cause": "a", "name": "b", "probability": 1.1}]}, "likely[0].probability", "<= 1"),
    ({"approval": {"asked": "1", "asked_at": AT}}, "approval", "missing required field `asked_by`"),
    ({"nonsense": 1}, "", "unknown field `nonsense`"),
]


@pytest.mark.parametrize(("change", "path", "why"), WRONG)
def test_what_is_wrong_is_told_with_its_path(change: dict[str, Any], path: str, why: str) -> None:
    with pytest.raises(FieldError) as told:
        decode(json.dumps({**JOB, **change}), Job, "job 7")
    assert (told.value.what, told.value.path) == ("job 7", path)
    assert why in told.value.why
    assert str(told.value).startswith(f"job 7: {path}{': ' if path else ''}")


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"id": 7', "\x00", '{"id": 7}{"id": 8}'])
def test_what_is_no_record_at_all(text: str) -> None:
    with pytest.raises(FieldError):
        decode(text, Job, "job 7")


def test_plain_data_is_told_the_same_way() -> None:
    with pytest.raises(FieldError) as told:
        to_record(
            {"name": "S", "bays": [{"id": "1", "name": "lift"}, {"id": "2", "nme": "yard"}]}, Settings, "shop.toml"
        )
    assert (told.value.path, told.value.why) == ("bays[1]", "Object contains unknown field `nme`")
    with pytest.raises(FieldError) as told:
        to_record({"name": "S", "decimals": 4}, Settings, "shop.toml")
    assert str(told.value) == "shop.toml: decimals: Expected `int` <= 3"


@pytest.mark.parametrize("hours", ["8-17", "08:00 - 17:00", "24:00-25:00", "08:60-17:00", "08:00", ""])
def test_working_hours_are_two_times_of_day(hours: str) -> None:
    with pytest.raises(FieldError, match="hours"):
        to_record({"name": "S", "hours": {"mon": hours}}, Settings, "shop.toml")


def test_a_day_that_is_none_is_named() -> None:
    with pytest.raises(FieldError, match="monday"):
        to_record({"name": "S", "hours": {"monday": "08:00-17:00"}}, Settings, "shop.toml")


# -- there and back ---------------------------------------------------------------------------------------------------

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
moments = st.datetimes(min_value=datetime(1970, 1, 1), max_value=datetime(2200, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001
sums = st.decimals(min_value=0, max_value=10**8, places=2)
hours = st.floats(0, 60_000)
dates = st.dates(min_value=date(1970, 1, 1))
ids = st.integers(1, 10**6)
spoken = st.lists(texts, max_size=2).map(tuple)


def several(one: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.lists(one, max_size=2).map(tuple)


RECORDS: dict[type, st.SearchStrategy[Any]] = {
    Customer: st.builds(Customer, id=ids, name=texts, phone=texts, note=texts),
    Machine: st.builds(
        Machine,
        id=ids,
        customer=ids,
        model=texts,
        layout=st.sampled_from(Layout),
        readings=several(st.builds(HourReading, at=moments, hours=hours, new_meter=st.booleans())),
        first_seen=st.none() | moments,
    ),
    PartLine: st.builds(
        PartLine,
        id=ids,
        job=st.none() | ids,
        number=texts,
        name=texts,
        quantity=ids,
        received=st.integers(0, 9),
        state=st.sampled_from(PartState),
        price=st.none() | sums,
        needed_at=moments,
        expected=st.none() | dates,
        core=st.booleans(),
    ),
    Job: st.builds(
        Job,
        id=ids,
        customer=ids,
        machine=ids,
        arrived=moments,
        since=moments,
        complaint=texts,
        stage=st.sampled_from(Stage),
        symptoms=spoken,
        answers=several(st.builds(Answer, check=texts, outcome=texts, at=moments, by=texts, note=texts)),
        readings=several(
            st.builds(
                Reading, quantity=texts, value=st.floats(-1e9, 1e9), unit=texts, error=hours, at=moments, by=texts
            )
        ),
        likely=several(st.builds(Likely, cause=texts, name=texts, probability=st.floats(0, 1))),
        findings=several(st.builds(Finding, cause=texts, text=texts, at=moments, by=texts, confirmed=st.booleans())),
        operations=several(st.builds(Operation, id=texts, name=texts, minutes=hours, covers=spoken, needs=spoken)),
        hours=st.none() | hours,
        payer=st.sampled_from(Payer),
        diagnostic_fee=sums,
        spend_before_call=st.none() | sums,
        approval=st.none()
        | st.builds(
            Approval,
            asked=sums,
            asked_at=moments,
            asked_by=texts,
            given=st.none() | st.booleans(),
            limit=st.none() | sums,
            at=st.none() | moments,
            calls=several(moments),
        ),
        notes=several(st.builds(Note, text=texts, at=moments, by=texts)),
        spent=several(st.builds(Spell, by=texts, at=moments, minutes=hours)),
        road_test=st.none()
        | st.builds(
            RoadTest,
            passed=st.booleans(),
            interlocks_proved=st.booleans(),
            brake_proved=st.booleans(),
            at=moments,
            by=texts,
        ),
        settlement=st.none() | st.builds(Settlement, total=sums, paid=sums, at=moments, by=texts),
    ),
    Change: st.builds(
        Change,
        seq=ids,
        at=moments,
        by=texts,
        why=texts,
        ops=several(
            st.builds(Put, table=st.sampled_from(Table), id=ids, data=st.just({"id": 1, "name": "x"}))
            | st.builds(Remove, table=st.sampled_from(Table), id=ids)
        ),
        subject=st.none() | ids,
        undoes=st.none() | ids,
    ),
}


@pytest.mark.parametrize("kind", list(RECORDS), ids=lambda kind: kind.__name__)
@given(data=st.data())
def test_a_record_comes_back_equal(kind: type, data: st.DataObject) -> None:
    record = data.draw(RECORDS[kind])
    kept = encode(record)
    assert decode(kept, kind) == record
    assert b"\n" not in kept, "one record is one line"


def test_money_comes_back_to_the_digit_and_is_no_binary_float() -> None:
    job = decode(json.dumps({**JOB, "diagnostic_fee": "0.10"}), Job)
    assert job.diagnostic_fee == Decimal("0.10") and str(job.diagnostic_fee) == "0.10"
    assert json.loads(encode(job))["diagnostic_fee"] == "0.10"


def test_a_time_of_another_zone_is_the_same_moment() -> None:
    east = datetime(2026, 1, 5, 10, 30, tzinfo=timezone(timedelta(hours=2)))
    job = decode(json.dumps({**JOB, "arrived": east.isoformat()}), Job)
    assert job.arrived == datetime(2026, 1, 5, 8, 30, tzinfo=UTC)


def test_people_and_models_read_from_plain_tables() -> None:
    person = to_record({"id": "ana", "name": "Ana", "roles": ["technician", "owner"]}, Person)
    assert person.roles == (Role.TECHNICIAN, Role.OWNER)
    model = to_record({"id": "m", "name": "M", "layout": "in-line", "data": {"pistons": 9, "swash": "17 deg"}}, Model)
    assert model.data == {"pistons": 9, "swash": "17 deg"}
    with pytest.raises(FieldError, match="layout: Invalid enum value 'sideways'"):
        to_record({"id": "m", "name": "M", "layout": "sideways"}, Model)

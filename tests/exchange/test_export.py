"""What goes out: tables that no spreadsheet computes and that come in again as they were, calendars, own data."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta

import msgspec
import pytest
from aids.desk import HOSTILE, Desk, small_day
from aids.shops import MORNING, Clock, make_shop
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from sample_shop import SAMPLE_NOW, copy_to
from shopboard.exchange.formulas import as_typed, defused
from shopboard.exchange.tables import COLUMNS
from shopboard.records import Customer, Step
from shopboard.store import open_shop

#: Signs by which spreadsheet programs take a cell for a formula (OWASP, "CSV Injection", as read in 2025).
ACTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


@given(st.text())
def test_no_text_acts_in_a_spreadsheet_and_each_comes_back(text):
    out = defused(text)
    assert not out.startswith(ACTS) and not out.lstrip(" ").startswith(("=", "+", "-", "@"))
    assert as_typed(out) == text


@pytest.mark.parametrize("sign", ACTS)
def test_each_sign_is_taken_its_force(sign):
    assert defused(f"{sign}1+1").startswith("'") and defused(f"a{sign}") == f"a{sign}"


@pytest.fixture
def sample(tmp_path):
    copy_to(tmp_path / "sample", SAMPLE_NOW)
    return tmp_path / "sample"


def _csv(done):
    assert (done.code, done.err) == (0, "")
    return list(csv.DictReader(io.StringIO(done.out, newline="")))


@pytest.mark.parametrize("table", COLUMNS)
def test_a_table_has_the_columns_it_promises_and_a_row_for_each(table, run, shop, tmp_path):
    small = tmp_path / "small"
    small_day(small)
    rows = _csv(run("export", table, "--shop", small))
    data = msgspec.json.decode(run("export", table, "--shop", small, "--format", "json").out)
    store = open_shop(small)
    assert len(rows) == len(data) == len(getattr(store.state, table))
    for row in (*rows, *data):
        assert tuple(row) == COLUMNS[table]
    for row in rows:
        assert not any(value.startswith(ACTS) for value in row.values())


def test_columns_are_stable():
    """Other people's programs read them: this list only grows at its ends."""
    first = {table: columns[:6] for table, columns in COLUMNS.items()}
    assert first == {
        "customers": ("id", "name", "phone", "address", "email", "note"),
        "machines": ("id", "customer", "phone", "model", "layout", "serial"),
        "jobs": ("job", "stage", "since", "arrived", "promised", "customer"),
        "parts": ("id", "job", "part number", "name", "quantity", "received"),
        "closed": ("job", "stage", "date in", "date out", "customer", "phone"),
    }


def test_a_shop_goes_out_and_comes_into_another_the_same(run, shop, sample, tmp_path):
    source, lists = open_shop(sample), tmp_path / "lists"
    lists.mkdir()
    for name in ("shop.toml", "models.toml", "book/wheel_motor_seals.toml"):
        (shop / name).write_bytes((sample / name).read_bytes())
    for table, kind in (("customers", "customers"), ("machines", "machines"), ("closed", "past-jobs")):
        file = lists / f"{table}.csv"
        assert run("export", table, "-o", file, "--bom", "--shop", sample).code == 0
        done = run("import", kind, file, "--as", "ines", "--yes", "--json")
        assert (done.code, done.err) == (0, "")
        told = msgspec.json.decode(done.out)
        assert told["added"] + told["rejected"] == told["rows"]
        assert table == "closed" or told["rejected"] == 0
    # A list holds one reading a machine: what an earlier, replaced meter showed does not always fit, and is told
    with (lists / "closed.csv.rejected.csv").open(encoding="utf-8-sig", newline="") as file:
        told_of = {row["job"] for row in csv.DictReader(file)}
    jobs = {job.tag: job for job, _ in source.closed_jobs()}
    over = {tag for tag, job in jobs.items() if job.hours and job.hours > _readings(source, job)[-1].hours}
    assert over <= told_of and all(any(r.new_meter for r in _readings(source, jobs[tag])) for tag in told_of)
    target = open_shop(shop)
    assert _customers(target) == _customers(source) and _machines(target) == _machines(source)
    assert _closed(target) == [line for line in _closed(source) if line[-1] not in told_of]


def _readings(store, job):
    return store.state.machines[job.machine].readings


def _customers(store):
    return {(one.name, one.phone, one.address, one.email, one.note) for one in store.state.customers.values()}


def _machines(store):
    state = store.state
    return {
        (
            state.customers[one.customer].name,
            one.model,
            one.serial,
            one.layout,
            one.meter(),
            one.duty,
            one.first_seen_used,
        )
        for one in state.machines.values()
    }


def _closed(store):
    """What of a closed job an export holds, by serial and day."""
    state = store.state
    return sorted(
        (
            state.machines[job.machine].serial,
            job.arrived.replace(second=0),
            job.closed_at.replace(second=0),
            job.stage,
            " ".join(job.complaint.split()),
            job.hours,
            state.closed[job.id].causes[:1],
            sum(one.minutes for one in job.spent),
            job.settlement and job.settlement.total,
            job.settlement and job.settlement.paid,
            _number(job),
        )
        for job, _ in store.closed_jobs()
    )


def _number(job):
    """Its tag where it was first: an import keeps it as a remark."""
    noted = next((note.text for note in job.notes if note.text.startswith("number T-")), "")
    return noted.split()[1] if noted else job.tag


# -- calendar ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def promised(tmp_path):
    clock = Clock()
    desk = Desk(make_shop(tmp_path / "promised", clock), clock)
    desk.take_in("Hill; Vineyard, Ltd.\\n", "slow, when warm; uphill\\and more", promise_days=1)
    desk.take_in(HOSTILE, HOSTILE, promise_days=130)
    desk.take_in("Lake Golf", "no promise given")
    desk.store.close()
    return tmp_path / "promised"


def test_promises_come_back_from_the_calendar_as_they_were(run, promised):
    done = run("export", "promises", "--shop", promised)
    assert (done.code, done.err) == (0, "")
    store = open_shop(promised)
    events = list(Calendar.from_ical(done.out).walk("VEVENT"))
    jobs = [job for job in store.state.jobs.values() if job.promise]
    assert len(events) == len(jobs) == 2
    for event, job in zip(events, sorted(jobs, key=lambda job: job.promise), strict=True):
        start = event["dtstart"].dt
        assert start == job.promise and start.tzinfo is not None and event["dtstart"].params["TZID"] == "Europe/Berlin"
        assert event["dtstamp"].dt == MORNING
        assert job.tag in event["summary"]
    assert events[0]["summary"] == "T-0001 promised: Test in-line of Hill; Vineyard, Ltd.\\n"
    assert events[0]["description"] == "arrived: slow, when warm; uphill\\and more"
    # an independent reading of RFC 5545: lines of at most 75 bytes, ended by CR LF, no control character
    for line in done.out.encode().removesuffix(b"\r\n").split(b"\r\n"):
        assert len(line) <= 75 and not any(byte < 32 and byte != 9 for byte in line)


def test_the_clock_stands_still_over_the_change_to_summer_time(run, promised):
    """09:42 in the shop is 08:42 UTC in winter and 07:42 in summer: the calendar must know that itself."""
    text = run("export", "promises", "--shop", promised).out
    assert "BEGIN:VTIMEZONE" in text and "TZID:Europe/Berlin" in text
    starts = [event["dtstart"].dt for event in Calendar.from_ical(text).walk("VEVENT")]
    assert [start.astimezone(UTC).hour for start in starts] == [9, 9]
    assert starts[0].utcoffset() == timedelta(hours=1) and starts[1].utcoffset() == timedelta(hours=2)


def test_an_events_name_stays_when_its_promise_moves(run, promised):
    before = [
        event["uid"] for event in Calendar.from_ical(run("export", "promises", "--shop", promised).out).walk("VEVENT")
    ]
    store = open_shop(promised)
    later = datetime(2026, 12, 24, 16, tzinfo=UTC)
    store.commit("cy", lambda s, n: Step("moved", (msgspec.structs.replace(s.jobs[1], promise=later),), subject=1))
    store.close()
    events = Calendar.from_ical(run("export", "promises", "--shop", promised).out).walk("VEVENT")
    assert [event["uid"] for event in events] == before and len(set(before)) == 2
    assert events[0]["dtstart"].dt == later


def test_no_promise_is_an_empty_calendar(run):
    done = run("export", "promises")
    assert done.code == 0 and Calendar.from_ical(done.out).walk("VEVENT") == []


# -- a customer's own data --------------------------------------------------------------------------------------------


def test_a_customer_gets_all_that_is_kept_of_them_and_nothing_of_others(run, sample):
    done = run("export", "customer", "ottersby school district", "--shop", sample)
    data = msgspec.json.decode(done.out)
    store = open_shop(sample)
    state = store.state
    assert data["customer"] == msgspec.to_builtins(state.customers[2]) | data["customer"]
    jobs = [job for job, _ in store.closed_jobs() if job.customer == 2] + [
        j for j in state.jobs.values() if j.customer == 2
    ]
    assert [one["tag"] for one in data["jobs"]] == sorted(job.tag for job in jobs)
    assert {one["job"]["complaint"] for one in data["jobs"]} == {job.complaint for job in jobs}
    assert sum(len(one["parts"]) for one in data["jobs"]) > 5
    assert {one["id"] for one in data["machines"]} == {one.id for one in state.machines.values() if one.customer == 2}
    told = {change.why for change in store.changes() if change.subject in {job.id for job in jobs}}
    assert told <= {one["why"] for one in data["history"]}
    for other in state.customers.values():
        assert other.id == 2 or other.phone not in done.out
    text = run("export", "customer", "2", "--format", "text", "--shop", sample).out
    for job in jobs:
        assert " ".join(job.complaint.split()) in " ".join(text.split())


@pytest.mark.parametrize(
    ("whom", "why"),
    [
        ("Nobody", "there is no customer Nobody here: say the number or the whole name"),
        ("99", "there is no customer 99 here: say the number or the whole name"),
        ("Twin", "2 customers are called Twin: say which by number: 1, 2"),
    ],
)
def test_whom_is_asked_back(run, shop, whom, why):
    store = open_shop(shop)
    store.commit("cy", lambda s, n: Step("two", (Customer(id=1, name="Twin"), Customer(id=2, name="twin", phone="1"))))
    store.close()
    assert run("export", "customer", whom).complained(2) == why


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("customers", "--format", "ics"), "customers cannot be written as ics: --format csv or json"),
        (("promises", "--format", "csv"), "promises cannot be written as csv: --format ics"),
        (("customers", "Hill"), "Hill does not belong behind customers: only `export customer` takes a name"),
        (("customer",), "there is no customer (blank) here: say the number or the whole name"),
    ],
)
def test_what_does_not_fit_is_one_line(run, arguments, why):
    assert run("export", *arguments).complained(2) == why

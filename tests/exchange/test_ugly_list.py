"""A deliberately ugly list of 5,000 rows comes in exactly as was decided when it was made up, or not at all."""

from __future__ import annotations

import csv
from collections import Counter
from zoneinfo import ZoneInfo

import msgspec
import pytest
from aids.ugly_list import ADDED, FILLED, KNOWN, REJECTED, make, write_csv, write_xlsx

from shopboard.store import open_shop, verify

ROWS = 5_000
ZONE = ZoneInfo("Europe/Berlin")


@pytest.fixture(scope="module")
def ugly():
    return make(7, ROWS)


def _files(ugly, folder):
    write_xlsx(ugly, folder / "ugly.xlsx")
    write_csv(ugly, folder / "ugly.csv")


def _machines(store):
    state = store.state
    return {
        machine.serial: (
            state.customers[machine.customer].name,
            machine.model,
            [(reading.hours, reading.at.astimezone(ZONE).date()) for reading in machine.readings],
        )
        for machine in state.machines.values()
    }


@pytest.mark.parametrize("name", ["ugly.xlsx", "ugly.csv"])
def test_every_row_ends_as_was_decided_when_it_was_made_up(ugly, run, shop, tmp_path, name):
    _files(ugly, tmp_path)
    twin = name.endswith(".csv")
    ends = ugly.twin_ends if twin else ugly.ends
    assert len(ugly.rows) == ROWS and len(ends) + ugly.blank + 1 == ROWS - 1  # the headings and the title are the rest
    assert min(Counter(end for end, _ in ends.values()).values()) > 150
    _customers(ugly, run, shop, tmp_path / name, twin)
    done = run("import", "machines", tmp_path / name, "--as", "cy", "--yes", "--dates", "dmy", "--json")
    assert (done.code, done.err) == (0, "")
    told = msgspec.json.decode(done.out)
    counts = Counter(end for end, _ in ends.values())
    assert {end: told[end] for end in (ADDED, FILLED, KNOWN, REJECTED)} == dict(counts)
    _rejects(tmp_path / f"{name}.rejected.csv", ends)
    store = open_shop(shop)
    lost = ugly.twin_lost if twin else set()
    wanted = {serial: machine for serial, machine in ugly.machines.items() if serial not in lost}
    assert _machines(store) == wanted | (ugly.twin_only if twin else {})
    assert store.state.seq == 2 and not verify(shop)
    _undone(store)


def _customers(ugly, run, shop, path, twin):
    """The same file gives the customers first: each once, however often and however written their name stands there."""
    done = run("import", "customers", path, "--as", "cy", "--yes", "--json")
    assert (done.code, done.err) == (0, "")
    told = msgspec.json.decode(done.out)
    inside = sum(last - first for first, last in ugly.merged) if twin else 0
    heads = sum(why == "the headings once more" for _, why in ugly.ends.values())
    assert (told["added"], told["rejected"]) == (len(ugly.owners), heads + inside)
    store = open_shop(shop)
    assert {customer.name: customer.phone for customer in store.state.customers.values()} == ugly.owners
    store.close()
    path.with_name(f"{path.name}.rejected.csv").unlink()


def _rejects(path, ends):
    """The file of rejects holds every rejected row once, with its number and reason."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    reasons = {number: why for number, (end, why) in ends.items() if end == REJECTED}
    assert [int(row["row"]) for row in rows] == sorted(reasons)
    for row in rows:
        assert row["why"].startswith(reasons[int(row["row"])]), row


def _undone(store):
    """One change, so that one undo takes all of it back."""
    store.undo("cy")
    assert not store.state.machines and len(store.state.customers) > 300
    store.close()


def test_two_date_orders_are_asked_about_and_never_guessed(ugly, run, shop, tmp_path):
    _files(ugly, tmp_path)
    for name in ("ugly.xlsx", "ugly.csv"):
        done = run("import", "machines", tmp_path / name, "--as", "cy", "--yes")
        assert done.code == 2
        line = done.err.splitlines()[-1]
        assert "column Last seen, row " in line and "can only be the one and only the other" in line
        assert "say which with --dates dmy or " in line
    assert not (shop / "db").exists() or open_shop(shop).state.seq == 0


def test_a_dry_run_tells_the_same_and_keeps_nothing(ugly, run, shop, tmp_path):
    _files(ugly, tmp_path)
    path = tmp_path / "ugly.xlsx"
    run("import", "customers", path, "--as", "cy", "--yes")
    path.with_name("ugly.xlsx.rejected.csv").unlink()
    told = []
    for more in (["--dry-run"], ["--yes"]):
        done = run("import", "machines", path, "--as", "cy", "--dates", "dmy", "--json", *more)
        told.append(msgspec.json.decode(done.out))
        assert open_shop(shop).state.seq == len(told)
    assert [one.pop("change") for one in told] == [0, 2]
    assert told[0] == told[1]

"""`backup`, `restore`, `pin` and `history` as a person or a script meets them."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
import time

import pytest
from aids.commands import environment
from aids.json_shapes import MOMENT, check, documented

from shopboard.places import history_search
from shopboard.store import open_shop
from shopboard.store.pins import Pins

from .conftest import *  # noqa: F403

HISTORY = {
    "changes": [
        {"number": int, "at": MOMENT, "by": str, "why": str, "job": (str, None), "undoes": (int, None)},
    ]
}


def test_a_backup_and_its_way_back(shop, at_once, tmp_path):
    done = at_once("backup", "--shop", shop, tmp_path / "kept.zip")
    assert done.code == 0 and "as of change 8" in done.out and done.err == ""
    done = at_once("restore", tmp_path / "kept.zip", shop)
    assert done.code == 0 and "kept in" in done.out
    assert at_once("verify", "--shop", shop).code == 0
    assert list(tmp_path.glob("shop.before-*"))


def test_what_cannot_be_backed_up_or_restored_is_one_line(shop, at_once, tmp_path):
    assert "no folder" in at_once("backup", "--shop", tmp_path / "none", tmp_path / "a.zip").complained(3)
    assert "is there already" in at_once("backup", "--shop", shop, shop / "shop.toml").complained(3)
    assert "no file" in at_once("restore", tmp_path / "none.zip", shop).complained(3)
    (tmp_path / "bad.zip").write_bytes(b"PK\x03\x04 and so on")
    assert "damaged or no backup" in at_once("restore", tmp_path / "bad.zip", shop).complained(3)
    at_once("backup", "--shop", shop, tmp_path / "kept.zip")
    store = open_shop(shop)
    assert "is open at a terminal" in at_once("restore", tmp_path / "kept.zip", shop).complained(3)
    store.close()
    database = "postgresql:///shops?branch=main"
    assert "database's own tools" in at_once("backup", "--shop", database, tmp_path / "b.zip").complained(3)


def test_the_history_filtered_and_as_json(shop, at_once):
    done = at_once("history", "--shop", shop, "--json")
    data = json.loads(done.out)
    check(data, HISTORY)
    documented(history_search.told_data, HISTORY)
    assert [one["number"] for one in data["changes"]] == list(range(1, 9))
    found = json.loads(at_once("history", "--shop", shop, "--job", "T-0002", "--by", "Ana", "--json", "clunks").out)
    assert [one["why"].startswith("Took in T-0002") or "T-0002" in one["why"] for one in found["changes"]] == [True]
    last = at_once("history", "--shop", shop, "--last", "2").out.splitlines()
    assert last[0].split()[0] == "7"
    assert at_once("history", "--shop", shop, "--since", "2027-01-01").out == "no change has all of this\n"
    every = at_once("history", "--shop", shop, "--since", "2026-11-24", "--until", "2026-11-24", "--json").out
    assert len(json.loads(every)["changes"]) == 8


def test_what_cannot_be_asked_of_the_history_is_one_line(shop, at_once):
    assert "is not a day" in at_once("history", "--shop", shop, "--since", "last week").complained(2)
    assert "is no number of changes" in at_once("history", "--shop", shop, "--last", "-3").complained(2)


def test_a_pin_needs_a_terminal_and_somebody_who_works_here(shop, at_once):
    assert "typed unseen" in at_once("pin", "--shop", shop, "--as", "ana").complained(2)
    assert "nobody called zoe works here" in at_once("pin", "--shop", shop, "--as", "zoe").complained(2)
    assert "say --as with one of: ana, bo, cy" in at_once("pin", "--shop", shop).complained(2)


def _in_terminal(shop, *arguments, answers):
    """Run `shopboard pin` in a pseudo-terminal, answering each question as it comes: what was shown, and the code."""
    here, there = pty.openpty()
    command = [sys.executable, "-m", "shopboard", "pin", "--shop", str(shop), *arguments]
    process = subprocess.Popen(
        command, stdin=there, stdout=there, stderr=there, env=environment(), start_new_session=True
    )
    os.close(there)
    shown, left, until = b"", list(answers), time.monotonic() + 60
    asked = 0
    while time.monotonic() < until:
        if not select.select([here], [], [], 0.2)[0]:
            if process.poll() is not None:
                break
            continue
        try:
            piece = os.read(here, 4096)
        except OSError:
            break
        shown += piece
        while left and shown.count(b": ") > asked:
            asked += 1
            os.write(here, left.pop(0).encode() + b"\n")
    code = process.wait(10)
    os.close(here)
    return shown.decode(), code


def test_a_pin_is_set_in_a_terminal_and_never_shown(shop):
    shown, code = _in_terminal(shop, "--as", "bo", answers=["4711", "4711"])
    assert code == 0 and "Bo's PIN is set." in shown and "4711" not in shown
    assert Pins(shop).has("bo")
    shown, code = _in_terminal(shop, "--as", "bo", answers=["0000"])
    assert code == 2 and "that is not the PIN" in shown and "0000" not in shown
    shown, code = _in_terminal(shop, "--as", "bo", answers=["4711", "", ""])
    assert code == 0 and "Bo has no PIN." in shown and not Pins(shop).has("bo")


@pytest.mark.parametrize(("who", "may"), [("bo", False), ("cy", True)])
def test_only_the_owner_takes_away_the_pin_of_somebody_else(shop, who, may):
    Pins(shop).set("ana", "4711")
    shown, code = _in_terminal(shop, "--as", who, "--clear", "ana", answers=[])
    assert code == (0 if may else 2)
    assert Pins(shop).has("ana") == (not may)
    assert ("ana has no PIN now" in shown) if may else ("this is for the owner, and Bo is technician here" in shown)

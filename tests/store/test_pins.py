"""PINs: kept as a slow hash only, wrong ones slow down across restarts and terminals, nothing tells what they are."""

from __future__ import annotations

import hashlib
import stat
import sys
import time
import tomllib
from datetime import UTC, datetime, timedelta

import pytest

from shopboard.records import Refused
from shopboard.store import ShopUnusable, pins
from shopboard.store.pins import Pins

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch):
    """A cheap hash where its slowness is not what is tested."""
    monkeypatch.setattr(pins, "_COST", 2)


def _wrong(kept: Pins, now: datetime, pin: str = "0000") -> str:
    with pytest.raises(Refused) as refused:
        kept.check("ana", pin, now)
    return str(refused.value)


def test_the_right_pin_passes_and_another_does_not(folder):
    kept = Pins(folder)
    kept.set("ana", "4711")
    kept.check("ana", "4711", NOW)
    assert _wrong(kept, NOW) == "that is not the PIN: try again"
    kept.check("ana", "4711", NOW)
    kept.check("bo", "anything: bo has set none", NOW)
    assert kept.has("ana") and not kept.has("bo")


def test_the_file_holds_a_salted_scrypt_and_is_for_its_owner_only(folder):
    Pins(folder).set("ana", "4711 über")
    Pins(folder).set("bo", "4711 über")
    path = folder / "pins.toml"
    assert "4711" not in path.read_text()
    held = tomllib.loads(path.read_text())
    assert held["ana"]["salt"] != held["bo"]["salt"] and held["ana"]["hash"] != held["bo"]["hash"]
    mine = held["ana"]
    again = hashlib.scrypt("4711 über".encode(), salt=bytes.fromhex(mine["salt"]), n=mine["cost"], r=8, p=1, dklen=32)
    assert again.hex() == mine["hash"]
    if sys.platform != "win32":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_try_costs_time_and_memory_worth_speaking_of(folder, monkeypatch):
    """RFC 7914 names N = 16384, r = 8, p = 1 for interactive use; N, r are what is kept."""
    monkeypatch.undo()
    Pins(folder).set("ana", "4711")
    assert tomllib.loads((folder / "pins.toml").read_text())["ana"]["cost"] == 16384
    began = time.perf_counter()
    Pins(folder).check("ana", "4711", NOW)
    assert time.perf_counter() - began > 0.01


def test_wrong_tries_slow_down_and_a_restart_does_not_help(folder):
    Pins(folder).set("ana", "4711")
    now = NOW
    waits = []
    for _ in range(14):
        said = _wrong(Pins(folder), now)
        assert said.startswith("that is not the PIN")
        waits.append(said)
        early = _wrong(Pins(folder), now, "4711") if "wait" in said else ""
        if early:
            assert "wrong tries" in early, "the right PIN is not looked at before its time"
        now += timedelta(minutes=15)
    assert "wait" not in waits[0] + waits[1]
    assert ["5 seconds" in waits[2], "10 seconds" in waits[3], "20 seconds" in waits[4]] == [True] * 3
    assert "15 minutes" in waits[-1]
    Pins(folder).check("ana", "4711", now)
    assert _wrong(Pins(folder), now) == "that is not the PIN: try again"


def test_a_try_is_counted_before_it_is_looked_at(folder, monkeypatch):
    """Killed in the middle of a try, it still counts."""
    kept = Pins(folder)
    kept.set("ana", "4711")

    def killed(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(pins, "_hash", killed)
        kept.check("ana", "0000", NOW)
    assert tomllib.loads((folder / "pins.toml").read_text())["ana"]["wrong"] == 1


def test_a_clock_set_back_never_makes_the_wait_longer(folder):
    kept = Pins(folder)
    kept.set("ana", "4711")
    for _ in range(3):
        _wrong(kept, NOW)
    said = _wrong(kept, NOW - timedelta(days=400), "4711")
    assert "wait 5 seconds" in said


@pytest.mark.parametrize("pin", ["", "123", " 1234", "1234\t", "x" * 65])
def test_what_is_no_pin_is_refused_in_one_line(folder, pin):
    with pytest.raises(Refused, match="a PIN has 4 to 64 characters"):
        Pins(folder).set("ana", pin)
    assert not Pins(folder).has("ana")


def test_half_a_character_is_no_accident(folder):
    Pins(folder).set("ana", "12\ud80034")
    Pins(folder).check("ana", "12\ud80034", NOW)


def _odd(secret):
    for salt, cost, until in (("xy", 2, ""), ("ab" * 16, 3, ""), ("ab" * 16, 2**40, ""), ("ab" * 16, 2, "soon")):
        yield f'[ana]\nsalt = "{salt}"\nhash = "{secret}"\ncost = {cost}\nuntil = "{until}"\n'


def test_a_broken_file_is_one_line_that_tells_nothing_of_it(folder):
    Pins(folder).set("ana", "4711")
    secret = tomllib.loads((folder / "pins.toml").read_text())["ana"]["hash"]
    for text in (
        f"[ana]\nhash = {secret}\n",
        f'[ana]\nhash = "{secret}"\n',
        "\x00",
        f'ana = "{secret}"\n',
        *_odd(secret),
    ):
        (folder / "pins.toml").write_text(text)
        with pytest.raises(ShopUnusable) as error:
            Pins(folder).check("ana", "4711", NOW)
        assert "pins.toml cannot be read" in str(error.value)
        assert secret not in str(error.value) and "\n" not in str(error.value)


def test_a_pin_taken_away_is_gone(folder):
    kept = Pins(folder)
    kept.set("ana", "4711")
    kept.clear("ana")
    assert not kept.has("ana")
    kept.check("ana", "whatever", NOW)

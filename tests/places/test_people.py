"""Who is at the terminal: PINs, the lock, and what each role meets on the board."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from aids.boards import open_board, screen_text, settled, type_keys, until
from aids.desk import small_day
from aids.shops import Clock, make_shop
from textual.pilot import Pilot

from shopboard.places.dialogs.pin import LockScreen, PinDialog
from shopboard.places.widgets.form import Form
from shopboard.store import FolderStore, open_shop, pins
from shopboard.store.pins import Pins


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "_COST", 2)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> FolderStore:
    small_day(tmp_path / "shop")
    return open_shop(tmp_path / "shop", clock=clock)


def _customers(store: FolderStore) -> list[str]:
    return [customer.name for customer in store.state.customers.values()]


async def _locked(pilot: Pilot[Any]) -> LockScreen:
    await until(pilot, lambda: isinstance(pilot.app.screen, LockScreen), "locked")
    await pilot.pause()
    return pilot.app.screen


async def _unlocked(pilot: Pilot[Any]) -> None:
    await until(pilot, lambda: not pilot.app.locked, "unlocked")
    await settled(pilot)


async def test_a_pin_set_at_the_board_is_asked_when_one_says_who_one_is(tmp_path, store, clock):
    async with open_board(tmp_path / "shop", store=store, clock=clock, who="cy") as pilot:
        await type_keys(pilot, "o", "y", "=4711", "enter", "=4711", "enter")
        assert "Your PIN is set" in screen_text(pilot.app)
        assert Pins(tmp_path / "shop").has("cy")
        await type_keys(pilot, "i", "home", "enter")
        assert pilot.app.who == "ana", "who has set none is asked for none"
        await type_keys(pilot, "i", "end", "enter")
        assert isinstance(pilot.app.screen, PinDialog)
        await type_keys(pilot, "=0000", "enter")
        assert pilot.app.who == "ana" and "that is not the PIN" in screen_text(pilot.app)
        await type_keys(pilot, "=4711")
        assert "4711" not in screen_text(pilot.app)
        await type_keys(pilot, "enter")
        assert pilot.app.who == "cy"


async def test_a_pin_is_changed_only_by_who_knows_it_and_taken_away_by_leaving_it_empty(tmp_path, store, clock):
    kept = Pins(tmp_path / "shop")
    async with open_board(tmp_path / "shop", store=store, clock=clock, who="bo") as pilot:
        kept.set("bo", "4711")
        await type_keys(pilot, "o", "y", "=0000", "enter", "=9999", "enter", "=9999", "enter")
        assert "that is not the PIN" in screen_text(pilot.app)
        await type_keys(pilot, "=4711", "enter", "=9999", "enter", "=8888", "enter")
        assert "the two new ones differ" in screen_text(pilot.app)
        await type_keys(pilot, "=4711", "enter", "=9", "enter", "=9", "enter")
        assert "a PIN has 4 to 64" in screen_text(pilot.app)
        await type_keys(pilot, "=4711", "enter", "=9999", "enter", "=9999", "enter")
        kept.check("bo", "9999", clock())
        await type_keys(pilot, "y", "=9999", "enter", "enter", "enter")
        assert "You have no PIN" in screen_text(pilot.app) and not kept.has("bo")


@pytest.mark.parametrize("size", [(80, 24), (160, 45)])
async def test_a_locked_screen_shows_nothing_of_customers_and_opens_nothing(tmp_path, store, clock, size):
    async with open_board(tmp_path / "shop", store=store, clock=clock, size=size) as pilot:
        Pins(tmp_path / "shop").set("ana", "4711")
        assert any(name.split()[0] in screen_text(pilot.app) for name in _customers(store))
        await type_keys(pilot, "ctrl+l")
        await _locked(pilot)
        for keys in (("=1", "enter"), ("escape",), ("ctrl+p",), ("tab", "f", "o", "n", "/", "u", "?"), ("ctrl+t",)):
            await type_keys(pilot, *keys)
            shown = screen_text(pilot.app)
            assert isinstance(pilot.app.screen, LockScreen)
            assert not any(word in shown for name in _customers(store) for word in name.split())
            assert "T-0" not in shown
        store.commit("bo", _remark(store))
        await until(pilot, lambda: pilot.app.state.seq == store.state.seq, "the other's change is known")
        assert "T-0" not in screen_text(pilot.app)


def _remark(store: FolderStore) -> Any:
    from shopboard.shop import evidence

    job = min(store.state.jobs)
    return lambda state, now: evidence.remark(state, now, "bo", job, "T-0001 rang")


async def test_a_half_typed_form_survives_the_lock(tmp_path, store, clock):
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        Pins(tmp_path / "shop").set("ana", "4711")
        await type_keys(pilot, "n", "=Zorngiebel")
        await type_keys(pilot, "ctrl+l")
        await _locked(pilot)
        assert "Zorn" not in screen_text(pilot.app)
        await type_keys(pilot, "=0000", "enter")
        assert pilot.app.locked and "that is not the PIN" in screen_text(pilot.app)
        await type_keys(pilot, "=4711", "enter")
        await _unlocked(pilot)
        assert "Zorngiebel" in screen_text(pilot.app)
        await type_keys(pilot, "=er")
        assert "Zorngiebeler" in str(pilot.app.screen.query_one(Form).values)


async def test_a_dialog_half_filled_survives_the_lock_and_another_person_may_open_it(tmp_path, store, clock):
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        await type_keys(pilot, "=1", "enter", "w", "=half a remark", "ctrl+l")
        await _locked(pilot)
        assert "half a remark" not in screen_text(pilot.app)
        await type_keys(pilot, "home", "down", "enter")
        await _unlocked(pilot)
        assert pilot.app.who == "bo" and "half a remark" in screen_text(pilot.app)
        await type_keys(pilot, "enter")
        changes = list(store.changes(1))
        assert (changes[-1].by, "half a remark" in changes[-1].why) == ("bo", True)


async def test_the_terminal_locks_by_itself_when_left_alone(tmp_path, clock):
    store = make_shop(tmp_path / "shop", clock)
    store.close()
    path = tmp_path / "shop" / "shop.toml"
    path.write_text(f"lock_minutes = 5\n{path.read_text()}")
    async with open_board(tmp_path / "shop", clock=clock) as pilot:
        clock.pass_(minutes=4)
        await type_keys(pilot, "o")
        clock.pass_(minutes=4)
        pilot.app._look_at_idle()
        assert not pilot.app.locked, "a key was pressed four minutes ago"
        clock.pass_(minutes=1)
        await _locked(pilot)


async def test_a_terminal_of_a_shop_that_never_locks_stays_open(tmp_path, store, clock):
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        clock.pass_(days=3)
        pilot.app._look_at_idle()
        assert not pilot.app.locked


async def test_a_board_opened_as_somebody_with_a_pin_begins_locked(tmp_path, store, clock):
    Pins(tmp_path / "shop").set("ana", "4711")
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        await _locked(pilot)
        assert not any(name in screen_text(pilot.app) for name in _customers(store))
        await type_keys(pilot, "=4711", "enter")
        await _unlocked(pilot)
        assert pilot.app.who == "ana"


async def test_wrong_pins_slow_down_also_over_a_restart_of_the_board(tmp_path, store, clock):
    Pins(tmp_path / "shop").set("ana", "4711")
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        await _locked(pilot)
        for _ in range(3):
            await type_keys(pilot, "=0000", "enter")
        assert "wait 5 seconds" in screen_text(pilot.app)
    async with open_board(tmp_path / "shop", clock=clock) as pilot:
        await _locked(pilot)
        await type_keys(pilot, "=4711", "enter")
        assert pilot.app.locked and "3 wrong tries: wait 5 seconds" in screen_text(pilot.app)
        clock.pass_(seconds=6)
        await type_keys(pilot, "=4711", "enter")
        await _unlocked(pilot)


async def test_what_ends_under_the_lock_waits_for_it(tmp_path, store, clock):
    """A dialog that closes by itself must not open the lock in its stead."""
    ended = []
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        from shopboard.places.dialogs import PageDialog

        page = PageDialog("a page", lambda width: [])
        pilot.app.push_screen(page, ended.append)
        await settled(pilot)
        await type_keys(pilot, "ctrl+l")
        await _locked(pilot)
        page.dismiss(None)
        await pilot.pause()
        assert pilot.app.locked and isinstance(pilot.app.screen, LockScreen) and not ended
        await type_keys(pilot, "enter")
        await _unlocked(pilot)
        await until(pilot, lambda: ended == [None], "the page is closed now")


async def test_a_broken_file_of_pins_keeps_the_terminal_shut_and_says_so(tmp_path, store, clock):
    (tmp_path / "shop" / "pins.toml").write_text("nonsense")
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        await _locked(pilot)
        await type_keys(pilot, "=4711", "enter")
        assert pilot.app.locked and "pins.toml cannot be read" in screen_text(pilot.app)

"""Hostile text in every place, dialog, title and notice: shown as marks, never obeyed, never taken for markup."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from aids.boards import choose, open_board, paste, question_here, screen_text, type_keys, walk_to
from aids.hostile import TEXTS, acts, hostile_shop, screen_faults, shown
from aids.shops import Clock
from textual.pilot import Pilot

from shopboard.cli import run
from shopboard.records import visible

KINDS = [*TEXTS]


class Look:
    """Looks at one screen after the other and remembers where the text was seen."""

    def __init__(self, pilot: Pilot[Any], text: str) -> None:
        self.pilot, self.text, self.seen = pilot, text, set[str]()

    async def at(self, name: str, *keys: str) -> None:
        """Press keys, then look: nothing acts, every row is whole; whether the text is there as it was typed."""
        await type_keys(self.pilot, *keys)
        assert screen_faults(self.pilot.app) == [], name
        # Where a text is wrapped, its lines and its 10,000 letters stand on rows of their own
        words = self.text[:3] if self.text[:3] in ("LIN", "LNG") else shown(self.text)
        if words in screen_text(self.pilot.app):
            self.seen.add(name)


@pytest.mark.parametrize("kind", KINDS)
async def test_every_place_and_dialog(kind: str, tmp_path: Path) -> None:
    await _everywhere(kind, (80, 24), tmp_path)


@pytest.mark.parametrize("kind", [pytest.param(k, marks=() if k == "wide" else pytest.mark.long) for k in KINDS])
async def test_every_place_and_dialog_on_a_wide_screen(kind: str, tmp_path: Path) -> None:
    await _everywhere(kind, (160, 45), tmp_path)


async def _everywhere(kind: str, size: tuple[int, int], tmp_path: Path) -> None:
    text, clock = TEXTS[kind], Clock()
    store = hostile_shop(tmp_path / "shop", text, clock)
    async with open_board(tmp_path / "shop", store=store, clock=clock, size=size) as pilot:
        look = Look(pilot, text)
        await look.at("floor")
        await look.at("floor, history", "end", "h")
        await look.at("floor, next step", "escape", "s")
        await _bench(look)
        await _parts(look)
        await look.at("office", "o")
        await look.at("office, notice", "end", "l")
        await look.at("find", "slash", f"={text[:3]}")
        await look.at("closed job", *_to_closed())
        await _counter(look)
        await look.at("who", "escape", "i")
    must = {"floor", "floor, history", "bench", "bench, said", "bench, notice", "history", "remark", "bay", "finding"}
    must |= {"parts", "order", "receive", "office", "find", "closed job", "customer", "pasted", "draft", "who"}
    missing = must - look.seen
    assert not missing, f"not seen there: {missing}; seen: {look.seen}"


def _to_closed() -> list[str]:
    return ["=5", "enter", "escape", "escape", "=5", "enter"]


async def _bench(look: Look) -> None:
    await look.at("bench", "escape", "=1", "enter")
    await look.at("bench, said", "tab")
    await look.at("history", "h")
    await look.at("finding", "escape", "d")
    await type_keys(look.pilot, "end", "up", "enter")
    await paste(look.pilot, look.text)
    await look.at("finding, typed")
    await look.at("remark", "escape", "w")
    await paste(look.pilot, look.text)
    await look.at("remark", "enter")
    await look.at("bench, notice")
    await look.at("bay", "s")
    await look.at("all steps", "end")
    await walk_to(look.pilot, "put into a bay")
    await look.at("bay", "enter")
    await look.at("tree", "escape", "t")
    for key in "arvgmy":
        await look.at(f"dialog {key}", "escape", key)
    await type_keys(look.pilot, "escape")


async def _parts(look: Look) -> None:
    await look.at("parts", "p", "end", "home")
    await choose(look.pilot, "no date")
    await look.at("receive")
    await type_keys(look.pilot, "escape")
    await choose(look.pilot, "not ordered")
    await look.at("order")
    await look.at("order, from whom", "end", "down", "down")
    await look.at("parts, history", "escape", "h")
    await type_keys(look.pilot, "escape")


async def _counter(look: Look) -> None:
    await look.at("customer", "escape", "n", f"={look.text[:3]}")
    await look.at("customer taken", "enter")
    await look.at("their machines")
    await type_keys(look.pilot, "enter", "enter")
    row = question_here(look.pilot.app)
    while row.field.id != "complaint":
        await type_keys(look.pilot, "tab")
        row = question_here(look.pilot.app)
    await paste(look.pilot, look.text)
    await look.at("pasted", "home")
    await type_keys(look.pilot, "escape")
    await look.at("draft", "n")


@pytest.mark.parametrize("kind", KINDS)
async def test_a_hostile_draft_is_offered_again(kind: str, tmp_path: Path) -> None:
    text = TEXTS[kind]
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "n")
        await paste(pilot, text)
        typed = question_here(pilot.app).input.value
    assert visible(" ".join(text.split())) == typed
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "n")
        while question_here(pilot.app).field.id != "who":  # the talk goes on where it was left
            await type_keys(pilot, "shift+tab")
        await type_keys(pilot, "home")
        assert question_here(pilot.app).input.value == typed
        assert shown(" ".join(text.split())) in screen_text(pilot.app) and screen_faults(pilot.app) == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_glance(kind: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    text = TEXTS[kind]
    hostile_shop(tmp_path / "shop", text, Clock()).close()
    assert run(["glance", "--shop", str(tmp_path / "shop")]) == 0
    out = capfd.readouterr().out
    assert acts(out.replace("\n", "")) == [] and shown(text) in out
    assert run(["glance", "--shop", str(tmp_path / "shop"), "--json"]) == 0
    out = capfd.readouterr().out
    assert acts(out.replace("\n", "")) == []
    data = json.loads(out)
    assert [job["complaint"] for job in data["jobs"]] == [text] * 5
    assert data["shop"] == text

"""The glance goes by the plan: the one a board keeps while that is fresh, else one made quickly; it says which."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from aids.shops import MORNING

from shopboard.places import plan_kept, seen_file
from shopboard.places.planned import Planned, Planner
from shopboard.store import open_shop, read_book

NOW = MORNING + timedelta(hours=1)
BERLIN = ZoneInfo("Europe/Berlin")


def board_plans(shop: Path) -> Planned:
    """What a board that is open keeps: the plan with how sure each date is."""
    store = open_shop(shop)
    try:
        made = [*Planner(store.state, read_book(shop), BERLIN).plan(NOW, lambda: True, 0.05)][-1]
        plan_kept.keep(shop, made, store.state.settings)
    finally:
        store.close()
    return made


def test_without_a_board_the_plan_is_made_just_now_and_knows_no_chances(shop, at_once):
    data = json.loads(at_once("glance", "--json", "--shop", shop).out)
    assert data["plan"] == {"at": "2026-11-24T10:42:00Z", "how": "quick"}
    assert all(job["on_time"] is None for job in data["jobs"]) and any(job["ready"] for job in data["jobs"])
    told = at_once("glance", "--shop", shop).out.splitlines()
    assert "late and spare: by a plan made just now from the book's times" in " ".join(told[-2:])


def test_beside_a_board_it_is_the_board_s_plan_with_its_chances(shop, at_once):
    made = board_plans(shop)
    data = json.loads(at_once("glance", "--json", "--shop", shop).out)
    assert data["plan"] == {"at": "2026-11-24T10:42:00Z", "how": "kept"}
    chances = {f"T-{job:04}": risk.on_time for job, risk in made.risks.items()}
    assert {job["job"]: job["on_time"] for job in data["jobs"]} == chances and any(chances.values())
    ready = {job["job"]: job["ready"] for job in data["jobs"] if job["ready"]}
    assert ready == {f"T-{job:04}": f"{made.ready(job):%Y-%m-%dT%H:%M:%SZ}" for job in made.plan.by_job}
    assert at_once("glance", "--shop", shop).out.splitlines()[-1] == "late and spare: by the board's plan of 11:42"


def test_jobs_at_risk_are_listed_with_their_chance(shop, at_once):
    board_plans(shop)
    seen = seen_file.read(shop)
    assert seen is not None
    step = seen_file.Row(1, "repair", NOW, NOW + timedelta(hours=2), "ana", "1")
    seen_file.write(shop, seen_file.Seen(seen.seq, seen.at, (step,), (seen_file.Sure(1, 0.41, NOW, NOW),)))
    lines = at_once("glance", "--shop", shop).out.splitlines()
    row = lines[lines.index("at risk: less sure than 80 % to be on time") + 1]
    assert row.startswith("T-0001  Test in-line, Hill Vineyard") and row.endswith("41 %")


@pytest.mark.parametrize("why", ["old", "changed", "torn", "later"])
def test_a_plan_that_is_not_the_shop_s_any_more_is_not_gone_by(shop, at_once, monkeypatch, why):
    board_plans(shop)
    if why == "old":
        monkeypatch.setattr("shopboard.store.utc_now", lambda: NOW + timedelta(minutes=11))
    elif why == "later":  # the clock was set back
        monkeypatch.setattr("shopboard.store.utc_now", lambda: NOW - timedelta(minutes=1))
    elif why == "changed":
        assert at_once("away", "bo", "--until", "fri", "--as", "cy", "--shop", shop).code == 0
    else:
        seen_file.path_of(shop).write_bytes(b'{"seq": 8, "at"')
    data = json.loads(at_once("glance", "--json", "--shop", shop).out)
    assert data["plan"]["how"] == "quick" and all(job["on_time"] is None for job in data["jobs"])


def test_a_kept_plan_of_a_kind_of_work_nobody_knows_is_not_gone_by(shop, at_once):
    board_plans(shop)
    kept = seen_file.path_of(shop)
    kept.write_bytes(kept.read_bytes().replace(b'"repair"', b'"polish"'))
    assert json.loads(at_once("glance", "--json", "--shop", shop).out)["plan"]["how"] == "quick"

"""`shopboard plan`: next jobs, steps and promises as text, and as JSON in just the shape it promises."""

from __future__ import annotations

import json

import pytest
from aids.json_shapes import MOMENT, check, documented
from rich.cells import cell_len

from shopboard.places import plan_page

PLAN = {
    "shop": str,
    "at": MOMENT,
    "seq": int,
    "sure_with": float,
    "steps": [
        {
            "job": str,
            "step": str,
            "person": str,
            "bay": (str, None),
            "start": MOMENT,
            "end": MOMENT,
            "waits_for": (str, None),
        }
    ],
    "next": [{"person": str, "job": (str, None), "bay": (str, None), "why": str}],
    "promises": [
        {
            "job": str,
            "promise": (MOMENT, None),
            "on_time": (float, None),
            "even": (MOMENT, None),
            "sure": (MOMENT, None),
            "helps": [{"what": str, "words": str, "on_time": float, "others_lose": float}],
        }
    ],
    "unplaceable": [{"job": str, "why": str}],
}


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans are improved for a moment only."""
    *most, _ = plan_page.look.__defaults__ or ()
    monkeypatch.setattr(plan_page.look, "__defaults__", (*most, 0.05))


def test_the_plan_as_text(shop, at_once):
    done = at_once("plan", "--shop", shop)
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0].startswith("Test shop   Tue 24 Nov 11:42")
    assert {"next for each", "the plan", "promises"} <= set(lines)
    people = [line.split(":")[0] for line in lines[lines.index("next for each") + 1 :]][:2]
    assert people == ["Ana", "Bo"]
    assert all(line.isprintable() and cell_len(line) <= 100 for line in lines)


def test_the_plan_as_json_has_just_the_shape_it_promises(shop, at_once):
    data = json.loads(at_once("plan", "--shop", shop, "--json").out)
    check(data, PLAN)
    documented(plan_page.plan_data, PLAN)
    assert data["steps"] and data["promises"]
    for step in data["steps"]:
        assert step["start"] < step["end"] and step["step"] in ("diagnose", "repair", "road test")
    assert [one["person"] for one in data["next"]] == ["ana", "bo"]


def test_no_shop_is_one_line(at_once):
    done = at_once("plan")
    assert done.code == 2 and done.err.startswith("shopboard: no shop named") and done.err.count("\n") == 1

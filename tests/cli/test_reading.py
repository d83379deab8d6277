"""Commands that read a shop: glance, verify, open and the bare command without a terminal, and where the shop is."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest
from aids.commands import environment, shopboard
from aids.desk import HOSTILE
from aids.json_shapes import MOMENT, check, documented
from aids.shops import MORNING
from rich.cells import cell_len

from shopboard import cli
from shopboard.places.glance_lines import glance_data

# -- glance ---------------------------------------------------------------------------------------------------------


def test_the_glance_is_the_shop_on_one_screen(shop, at_once):
    done = at_once("glance", "--shop", shop)
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0].startswith("Test shop   Tue 24 Nov 11:42   bays 1 of 3    late 1    to call 1")
    lift, clean, yard = lines[2:5]
    assert "lift" in lift and "T-0001" in lift and "Ana" in lift
    assert "clean" in clean and "free, next T-0003 Bo" in clean and "yard" in yard and yard.endswith("free")
    heads = [line.split("  ")[0] for line in lines]
    assert heads.index("arrived") < heads.index("waiting for approval") < heads.index("calls to make")
    assert any(line.startswith("T-0002  Lake Golf 555 01: The estimate") and "412.00 EUR" in line for line in lines)


def test_no_line_of_the_glance_is_wider_than_the_terminal(shop, at_once, monkeypatch):
    for columns in (40, 80, 110, 160):
        monkeypatch.setenv("COLUMNS", str(columns))
        widest = max(map(cell_len, at_once("glance", "--shop", shop).out.splitlines()))
        assert columns - 30 < widest <= max(80, columns)


def test_what_people_typed_is_shown_and_never_acts(shop, at_once):
    out = at_once("glance", "--shop", shop).out
    assert "[left] [/b]" in out
    assert all(line.isprintable() for line in out.splitlines())


def test_late_jobs_say_why(shop, at_once, monkeypatch):
    monkeypatch.setattr("shopboard.store.utc_now", lambda: MORNING + timedelta(days=3))
    lines = at_once("glance", "--shop", shop).out.splitlines()
    assert "late 1" in lines[0]
    after = lines[lines.index("late, or cannot be on time") + 1]
    assert after.startswith("T-0001  Test in-line, Hill Vineyard")
    data = json.loads(at_once("glance", "--shop", shop, "--json").out)
    because = {job["job"]: job["late_because"] for job in data["jobs"]}
    assert because["T-0001"] and because["T-0001"][:40] in after
    assert because["T-0002"] is None and because["T-0003"] is None


GLANCE = {
    "shop": str,
    "at": MOMENT,
    "seq": int,
    "plan": ({"at": MOMENT, "how": str}, None),
    "bays": [{"bay": str, "name": str, "job": (str, None)}],
    "jobs": [
        {
            "job": str,
            "machine": str,
            "complaint": str,
            "stage": str,
            "since": MOMENT,
            "bay": (str, None),
            "person": (str, None),
            "likely": str,
            "waits": str,
            "promise": (MOMENT, None),
            "spare_days": (int, None),
            "ready": (MOMENT, None),
            "on_time": (float, None),
            "minutes_left": float,
            "late_because": (str, None),
        }
    ],
    "calls": [{"job": str, "say": str}],
}


def test_the_glance_as_json(shop, at_once):
    done = at_once("glance", "--shop", shop, "--json")
    assert (done.code, done.err) == (0, "")
    data = json.loads(done.out)
    check(data, GLANCE)
    documented(GLANCE, glance_data)
    assert data["shop"] == "Test shop" and data["at"] == "2026-11-24T10:42:00Z" and data["seq"] == 8
    assert data["bays"] == [
        {"bay": "1", "name": "lift", "job": "T-0001"},
        {"bay": "2", "name": "clean", "job": None},
        {"bay": "3", "name": "yard", "job": None},
    ]
    first, second, third = data["jobs"]
    assert [first["job"], second["job"], third["job"]] == ["T-0001", "T-0002", "T-0003"]
    assert first["machine"] == "Test in-line, Hill Vineyard"
    assert first["complaint"] == "slow going up the hill when warm"
    assert (first["stage"], first["bay"], first["person"]) == ("being diagnosed", "1", "ana")
    assert first["since"] == "2026-11-24T09:45:00Z"
    assert first["promise"] == "2026-11-25T09:42:00Z" and first["spare_days"] == 0
    assert data["plan"]["how"] == "quick" and first["ready"] > first["promise"]  # hours too late, on the day itself
    assert first["late_because"]
    assert second["stage"] == "waiting for approval" and second["likely"] == "key sheared"
    assert "412.00" in second["waits"]
    assert third["bay"] is None and third["promise"] is None and third["spare_days"] is None
    assert data["calls"] == [{"job": "T-0002", "say": data["calls"][0]["say"]}]
    assert "412.00 EUR" in data["calls"][0]["say"]


def test_hostile_text_is_itself_in_json(shop, at_once):
    done = at_once("glance", "--shop", shop, "--json")
    assert json.loads(done.out)["jobs"][2]["complaint"] == HOSTILE
    assert "\x1b" not in done.out


def test_looking_changes_nothing(shop, at_once):
    before = _contents(shop)
    for arguments in (["glance"], ["glance", "--json"], ["verify"], ["verify", "--json"], ["triage", "clunk"]):
        assert at_once(*arguments, "--shop", shop).code == 0
    assert _contents(shop) == before


def _contents(shop: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in shop.rglob("*") if path.is_file() and path.name != "lock"}


# -- where the shop is ----------------------------------------------------------------------------------------------


def test_the_shop_is_named_before_or_after_the_command_or_by_the_environment(shop, at_once, monkeypatch):
    after = at_once("glance", "--shop", shop)
    assert after.code == 0 and "Test shop" in after.out
    assert at_once("--shop", shop, "glance") == after
    monkeypatch.setenv("SHOPBOARD_SHOP", str(shop))
    assert at_once("glance") == after


def test_what_is_named_last_counts(shop, at_once, monkeypatch, tmp_path):
    monkeypatch.setenv("SHOPBOARD_SHOP", str(tmp_path / "elsewhere"))
    assert at_once("--shop", shop, "glance").code == 0
    assert at_once("--shop", tmp_path / "other", "glance", "--shop", shop).code == 0
    assert "elsewhere" in at_once("glance").complained(3)


@pytest.mark.parametrize("arguments", [(), ("glance",), ("verify",), ("open",)])
def test_no_shop_named_is_one_line_that_says_what_to_do(at_once, arguments):
    told = at_once(*arguments).complained(2)
    assert told == (
        "no shop named: give --shop FOLDER or set SHOPBOARD_SHOP; "
        "`shopboard demo` shows a sample, `shopboard new FOLDER` makes one"
    )


# -- the board without a terminal -----------------------------------------------------------------------------------


def test_open_without_a_terminal_prints_the_glance_and_how_to_open_the_board(shop, at_once):
    done = at_once("open", shop)
    assert (done.code, done.err) == (0, "")
    glance = at_once("glance", "--shop", shop).out
    assert done.out == f"{glance}\nThe board itself needs a terminal: run `shopboard open {shop}` in one.\n"


def test_the_bare_command_opens_the_shop_of_the_environment(shop, at_once, monkeypatch):
    opened = at_once("open", shop)
    monkeypatch.setenv("SHOPBOARD_SHOP", str(shop))
    assert at_once() == opened
    assert at_once("open") == opened
    monkeypatch.delenv("SHOPBOARD_SHOP")
    assert at_once("--shop", shop) == opened
    assert at_once("--shop", shop, "open") == opened


def test_the_bare_command_in_a_process_of_its_own(shop):
    done = shopboard(env=environment(SHOPBOARD_SHOP=str(shop)))
    assert (done.code, done.err) == (0, "")
    assert "Test shop" in done.out and "needs a terminal" in done.out


# -- verify ---------------------------------------------------------------------------------------------------------


def test_a_sound_shop_has_no_faults(shop, at_once):
    done = at_once("verify", "--shop", shop)
    assert (done.code, done.out, done.err) == (0, "no faults: journal, files, records and book agree\n", "")
    assert json.loads(at_once("verify", "--shop", shop, "--json").out) == {"faults": []}


def test_faults_are_listed_one_a_line_and_end_in_1(shop, at_once):
    (shop / "shop.toml").write_text((shop / "shop.toml").read_text("utf-8").replace("Europe/Berlin", "Europe/Nowhere"))
    (shop / "models.toml").write_text("[[model]]\nid = 'a'\n")
    done = at_once("verify", "--shop", shop)
    assert (done.code, done.err) == (1, "")
    zone, model = done.out.splitlines()
    assert zone.startswith('shop.toml: zone: "Europe/Nowhere" is no time zone; ')
    assert model.startswith("models.toml: model[1].name: is missing; ")
    listed = at_once("verify", "--shop", shop, "--json")
    data, shape = json.loads(listed.out), {"faults": [{"where": str, "why": str, "mend": str}]}
    assert (listed.code, listed.err) == (1, "")
    check(data, shape)
    documented(shape, cli._verify_data)
    assert [fault["where"] for fault in data["faults"]] == ["shop.toml", "models.toml"]


def test_hostile_text_in_a_fault_is_shown_on_its_line(shop, at_once):
    (shop / "book").mkdir(exist_ok=True)
    (shop / "book" / "own.toml").write_text('[cause."\\u001b[31m"]\nname = "x"\n', encoding="utf-8")
    done = at_once("verify", "--shop", shop)
    assert done.code == 1
    assert done.out and all(line.isprintable() for line in done.out.splitlines())

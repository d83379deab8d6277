"""The page of the memory and its command: sentences that fit, one stable schema, one line for what is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec
import pytest
from aids.lives import job, machine
from aids.shipped_book import shipped_book
from rich.cells import cell_len

from shopboard import cli, demo
from shopboard.places import memory_lines, memory_page
from shopboard.places.knowledge import Knowledge, Material
from shopboard.places.lines import plain
from shopboard.places.reckoning import Reckoning
from shopboard.records import Job, Model, Operation, PartLine, ServicePoint, Settings, ShopState
from shopboard.store import open_shop, read_book

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
UTC_ZONE = ZoneInfo("UTC")


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample shop laid out."""
    return demo.lay_out(tmp_path_factory.mktemp("memory") / "shop", datetime.now(UTC))


@pytest.fixture(scope="module")
def state(sample: Path) -> ShopState:
    """The sample shop's records."""
    store = open_shop(sample)
    store.close()
    return store.state


def _look(state: ShopState, sample: Path, model: str = "") -> memory_page.MemoryPage:
    return memory_page.look(state, read_book(sample), datetime.now(UTC), UTC_ZONE, model=model)


def _knowledge(state: ShopState, sample: Path) -> Knowledge:
    return Reckoning(Material(state, read_book(sample), datetime.now(UTC), UTC_ZONE, {})).knowledge()


def test_the_seals_that_fail_early_are_said_with_what_to_look_at(state: ShopState, sample: Path) -> None:
    page = _look(state, sample)
    (warning,) = page.early
    assert (warning.early.component, warning.early.model) == ("wheel-motor-seal", "osmere-60")
    assert warning.looks and "this can hardly be chance" in warning.said
    known = _knowledge(state, sample)
    assert [each.said for each in known.warnings_for("osmere-60")] == [warning.said]
    assert known.warnings_for("tarrow-26") == ()


def test_shuffling_the_models_makes_the_warning_go(state: ShopState, sample: Path) -> None:
    """Split machines swap their models round: each model has its share of the seals."""
    split = [machine for machine in state.machines.values() if str(machine.layout) == "split"]
    models = [machine.model for machine in split]
    flagged = 0
    for turn in range(1, len(split), 4):
        turned = models[turn:] + models[:turn]
        swapped = {m.id: msgspec.structs.replace(m, model=to) for m, to in zip(split, turned, strict=True)}
        shuffled = ShopState(
            settings=state.settings, models=state.models, machines=state.machines | swapped, closed=state.closed
        )
        found = _knowledge(shuffled, sample).warnings_for("osmere-60")
        flagged += any(each.early.component == "wheel-motor-seal" for each in found)
    assert flagged <= 2


def test_triage_gets_the_weights_of_the_machine_s_age(state: ShopState, sample: Path) -> None:
    """Seals that fail young weigh more young than old, and a machine whose seal is new is young in that."""
    known = _knowledge(state, sample)
    young, old = known.weights_for(350.0), known.weights_for(1900.0)
    assert young["wheel-motor-seal"] > 1.3 > old["wheel-motor-seal"]
    assert known.weights_for(1900.0, {"wheel-motor-seal": 350.0}) == old | {
        "wheel-motor-seal": young["wheel-motor-seal"]
    }
    assert known.weights_for(None) == {}


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("model", ["", "osmere-60", "tarrow-26"])
def test_every_line_fits(state: ShopState, sample: Path, width: int, model: str) -> None:
    rows = memory_lines.memory_lines(_look(state, sample, model), width)
    assert all(cell_len(row.text) <= width for row in rows), [row.text for row in rows if cell_len(row.text) > width]
    text = plain(rows)
    for heading in ("failing early", "failure ages", "service due", "lead times", "how our words held"):
        assert heading in text
    assert "nan" not in text.lower() and "inf" not in text.split()


def test_an_empty_shop_says_that_it_knows_nothing() -> None:
    page = memory_page.look(ShopState(settings=Settings(name="New"), models={}), shipped_book(), NOW, UTC_ZONE)
    text = plain(memory_lines.memory_lines(page, 80))
    for said in (
        "no model fails earlier than the others",
        "no failure with a known age yet",
        "nothing that was ever noted falls due",
        "the first likely cause was the cause: no job to tell from",
        "no job to judge probabilities by",
    ):
        assert said in text
    assert json.loads(msgspec.json.encode(memory_lines.memory_data(page)))["early"] == []


def test_what_people_typed_never_acts(state: ShopState, sample: Path) -> None:
    evil = "\x1b[31m[/b]"
    models = {id: msgspec.structs.replace(model, name=evil) for id, model in state.models.items()}
    customers = {id: msgspec.structs.replace(who, name=evil) for id, who in state.customers.items()}
    bad = ShopState(
        settings=state.settings, models=models, machines=state.machines, closed=state.closed, customers=customers
    )
    text = plain(memory_lines.memory_lines(_look(bad, sample, "osmere-60"), 80))
    assert "\x1b" not in text and "␛[31m[/b]" in text


def test_a_point_that_was_noted_falls_due_and_its_customer_is_rung() -> None:
    """From whole closed jobs: the operation done is the point done; a machine that stands here is not rung about."""
    point = ServicePoint(id="joint", name="rear joint: grease", normal_hours=50, severe_hours=20, covers=("plate",))
    one = machine(1, (0, 0), (30, 100), (60, 200))
    whole = Job(
        id=1,
        customer=1,
        machine=1,
        arrived=one.readings[1].at,
        since=one.readings[1].at,
        closed_at=one.readings[1].at,
        complaint="",
        hours=100.0,
        operations=(Operation(id="joint", name="grease", minutes=5, done=True),),
    )
    parts: tuple[PartLine, ...] = ()
    state = ShopState(
        settings=Settings(name="New"),
        models={"m": Model(id="m", name="M", layout=one.layout, service_points=(point,))},
        machines={1: one},
        closed={1: job(1, 1, 30, "", 100.0)},
    )
    page = memory_page.look(state, shipped_book(), one.readings[2].at, UTC_ZONE, [(whole, parts)])
    (due,) = page.service.dues
    assert (due.due_age, due.noted, due.overdue, due.hidden) == (150.0, True, True, True)
    assert [call.said for call in page.calls] == [
        "customer 1: 1 point due on 1 machine, 1 of them overdue, 1 behind covers"
    ]
    here = msgspec.structs.replace(whole, id=2, closed_at=None)
    state.jobs[2] = here
    later = one.readings[2].at + timedelta(days=1)
    assert memory_page.look(state, shipped_book(), later, UTC_ZONE, [(whole, parts)]).service.dues == ()


# -- the command ----------------------------------------------------------------------------------------------------


def test_the_command_prints_text_and_data(
    sample: Path, capsysbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert cli.run(["memory", "--shop", str(sample)]) == 0
    text = capsysbinary.readouterr().out.decode()
    assert text.startswith("what this shop remembers of all models")
    assert cli.run(["memory", "--shop", str(sample), "--model", "osmere-60", "--json"]) == 0
    data = json.loads(capsysbinary.readouterr().out)
    assert list(data) == [
        "at", "model", "early", "of_model", "ages", "due", "never_noted", "calls", "lead_times", "slower", "held",
        "left_out",
    ]  # fmt: skip
    assert data["model"] == "osmere-60"
    figure = data["early"][0]["times"]
    assert set(figure) == {"said", "value", "low", "high", "unit", "level"} and figure["low"] > 1
    assert {"component", "verdict", "shape", "b10", "curve", "said"} <= set(data["ages"][0])
    assert all(entry["word"] in ("like others", "not enough") for entry in data["of_model"][1:])


def test_an_unknown_model_is_one_line(sample: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    assert cli.run(["memory", "--shop", str(sample), "--model", "nope"]) == 2
    out, err = capsysbinary.readouterr()
    assert out == b"" and err.decode().startswith("shopboard: no model nope: there are ")
    assert err.decode().count("\n") == 1


def test_nothing_heavy_comes_with_the_memory_s_modules() -> None:
    code = (
        "import sys, shopboard.memory, shopboard.places.memory_lines, shopboard.places.memory_page;"
        "print(*sorted({'numpy', 'scipy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout.strip()) == (0, ""), done.stderr


def test_the_plots_are_written_as_asked_and_a_wrong_name_is_one_line(
    sample: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    picture = tmp_path / "[b]seals & more.svg"
    assert cli.run(["memory", "--shop", str(sample), "--model", "osmere-60", "--plot", str(picture)]) == 0
    out, err = capsysbinary.readouterr()
    assert b"what this shop remembers of Osmere 60" in out and str(picture) in err.decode()
    root = ET.fromstring(picture.read_text(encoding="utf-8"))
    words = [text.text or "" for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any("wheel-motor shaft seal leaks" in each and "share still good by age" in each for each in words)
    for named, code, why in (
        (tmp_path / "seals.png", 2, "the picture is an SVG file: give it a name that ends in .svg"),
        (tmp_path / "none" / "seals.svg", 3, "No such file or directory"),
    ):
        assert cli.run(["memory", "--shop", str(sample), "--plot", str(named)]) == code
        out, err = capsysbinary.readouterr()
        assert out == b"" and why in err.decode() and err.decode().count("\n") == 1
        assert not named.exists()

"""The memory on the board: plots that show what the figures say, pages that fit, the warning at the Counter."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec
import numpy as np
import pytest
from aids.boards import open_board, row_here, screen_text, settled, type_keys, until, walk_to
from rich.cells import cell_len

from shopboard import demo, memory
from shopboard.memory import Life
from shopboard.memory.kaplan_meier import Curve, kaplan_meier
from shopboard.memory.outcomes import Judged, reliability
from shopboard.places import memory_cells, memory_page
from shopboard.places.dialogs.memory import CellDialog, MemoryDialog
from shopboard.places.knowing import KnowingApp
from shopboard.places.knowledge import Knowledge, Lead, Material
from shopboard.places.lines import plain
from shopboard.places.memory_plots import curve_lines, lead_lines, reliability_lines
from shopboard.places.memory_svg import svg_of
from shopboard.places.reckoning import Reckoning
from shopboard.places.spectrum_lines import axis_lines
from shopboard.store import FolderStore, open_shop, read_book

UTC_ZONE = ZoneInfo("UTC")
WIDTHS = [40, 72, 80, 156]


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample shop laid out."""
    return demo.lay_out(tmp_path_factory.mktemp("pages") / "shop", datetime.now(UTC))


@pytest.fixture(scope="module")
def store(sample: Path) -> Iterator[FolderStore]:
    """The sample shop open."""
    store = open_shop(sample)
    yield store
    store.close()


def _reckoning(store: FolderStore, sample: Path, *, shuffled: bool = False) -> Reckoning:
    """The sample gone through; `shuffled` gives its split machines each other's models."""
    state = store.state
    if shuffled:
        split = [machine for machine in state.machines.values() if str(machine.layout) == "split"]
        models = [split[place - len(split) // 2].model for place in range(len(split))]
        swapped = {m.id: msgspec.structs.replace(m, model=to) for m, to in zip(split, models, strict=True)}
        state = replace(state, machines=state.machines | swapped)
    closed = {job.id: (job, lines) for job, lines in store.closed_jobs()}
    made = Reckoning(Material(state, read_book(sample), datetime.now(UTC), UTC_ZONE, closed))
    made.take_wholes(closed.values())
    made.tend()
    return made


@pytest.fixture(scope="module")
def reckoned(store: FolderStore, sample: Path) -> Reckoning:
    """The sample gone through."""
    return _reckoning(store, sample)


@pytest.fixture(scope="module")
def known(reckoned: Reckoning) -> Knowledge:
    """What it teaches."""
    return reckoned.knowledge()


# -- plots ------------------------------------------------------------------------------------------------------------


def _curve(seed: int, machines: int = 60) -> Curve:
    rng = np.random.default_rng(seed)
    failed, seen = rng.weibull(1.7, machines) * 900, rng.random(machines) * 1300 + 1
    return kaplan_meier([Life(0, float(min(f, s)), bool(f < s)) for f, s in zip(failed, seen, strict=True)])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("width", [60, 80, 100])
def test_the_drawn_curve_is_the_curve(seed: int, width: int) -> None:
    """Read off the picture, column by column: the share within half of a row's third, dots only within the band."""
    curve, height, side = _curve(seed), 10, 6
    rows = [row.text.ljust(width) for row in curve_lines(curve, width, height)[1 : height + 1]]
    marks = 0
    for column in range(width - side):
        age = (column + 0.5) / (width - side) * curve.to
        low, high = curve.band(age)
        seen = []
        for place, row in enumerate(rows):
            above, below = 1 - place / height, 1 - (place + 1) / height
            char = row[side + column]
            if char in "▁━▔":
                seen.append(below + ("▁━▔".index(char) + 0.5) / 3 / height)
            elif char == "╋":
                marks += 1
                seen.append((above + below) / 2)
                assert any(abs(left - age) <= curve.to / (width - side) for left in curve.unfailed)
            elif char == "·":
                assert low < above and high > below
        (share,) = seen
        assert share == pytest.approx(curve.good(age), abs=0.5 / height + 1e-9)
    assert marks > 0


def test_nothing_is_drawn_where_nothing_failed_or_there_is_no_room() -> None:
    assert curve_lines(kaplan_meier([Life(0, 100, False)]), 80) == []
    assert curve_lines(kaplan_meier([]), 80) == []
    assert curve_lines(_curve(1), 20) == []


def test_the_reliability_diagram_marks_what_was_said_and_what_was_true() -> None:
    """Said 0.6 and 0.15 a hundred times each, true 90 and 15 times: the first group is off, the second is not."""
    jobs = [Judged(n, (("a", 0.6), ("b", 0.15)), ("a",) if n < 90 else ("c",)) for n in range(100)]
    jobs += [Judged(n, (("x", 0.15),), ("x",) if n < 30 else ("y",)) for n in range(100, 200)]
    rows = reliability_lines(reliability(jobs), 80)
    off = next(row for row in rows if row.text.strip().startswith("60 %"))
    assert "90 %" in off.text and "100" in off.text
    drawn = off.text[12:62]
    assert drawn.index("o") == int(0.6 * 50) and drawn.index("●") == int(0.9 * 50)
    assert off.spans[1].role == "wait"
    assert all(cell_len(row.text) <= 80 for row in rows)


def test_lead_times_stand_along_one_axis() -> None:
    def figure(value: float, low: float, high: float) -> memory.Figure:
        return memory.Figure(said="", value=value, low=low, high=high, unit="days")

    fast = Lead("near", "belt", figure(1, 1, 1), figure(2, 1, 3), 30, "")
    slow = Lead("far", "unit", figure(20, 18, 22), figure(30, 25, 40), 30, "")
    unknown = Lead("new", "seal", memory.Figure(said=""), memory.Figure(said="", low=4), 1, "")
    rows = [row.text for row in lead_lines([fast, slow, unknown], 80)]
    near, far = (next(row for row in rows if name in row) for name in ("near belt", "far unit"))
    assert near.index("●") < far.index("○") < far.index("●")
    assert far.split()[-2:] == ["20", "30"] and not any("new" in row for row in rows)
    assert lead_lines([unknown], 80) == []


# -- pages ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", WIDTHS)
def test_every_page_fits(reckoned: Reckoning, known: Knowledge, store: FolderStore, width: int) -> None:
    state, names = store.state, {"osmere-60": "Osmere 60"}
    pages = [
        memory_cells.list_lines(known, names, state, width),
        memory_cells.held_page(known, width),
        memory_cells.leads_page(known, width),
        memory_cells.service_page(known, names, state, width),
        memory_cells.cell_lines(reckoned.page("wheel-motor-seal", "osmere-60"), width),
        memory_cells.cell_lines(reckoned.page("pump-worn", ""), width),
    ]
    for page in pages:
        assert all(cell_len(row.text) <= width for row in page), [r.text for r in page if cell_len(r.text) > width]
        assert "nan" not in plain(page).split() and "inf" not in plain(page).split()


def test_the_list_begins_with_what_fails_early_and_every_row_opens_its_page(
    reckoned: Reckoning, known: Knowledge, store: FolderStore
) -> None:
    rows = memory_cells.list_lines(known, {}, store.state, 80)
    cells = [cell for row in rows if row.key and (cell := memory_cells.of_key(row.key))]
    assert cells[0] == ("wheel-motor-seal", "osmere-60")
    assert len(cells) == len(set(cells)) > 100
    for component, model in cells[:3] + cells[-3:]:
        page = reckoned.page(component, model)
        assert (page.component, page.model) == (component, model)


def test_the_page_of_seals_says_where_how_much_and_what_to_look_at(reckoned: Reckoning) -> None:
    text = plain(memory_cells.cell_lines(reckoned.page("wheel-motor-seal", "osmere-60"), 80))
    for said in ("11 failures", "look at it:", "share still good", "when to replace it", "how often it comes again"):
        assert said in text


def test_the_service_page_names_whom_to_ring_with_the_number(known: Knowledge, store: FolderStore) -> None:
    calls = memory_cells.calls_of(known, store.state)
    assert len(calls) >= 5
    text = " ".join(plain(memory_cells.service_page(known, {}, store.state, 120)).split())
    for call in calls[:5]:
        who = store.state.customers[call.customer]
        assert who.name in text and who.phone in text
    here = {job.machine for job in store.state.jobs.values() if not job.stage.closed}
    assert here and not here & {due.machine for due in known.bulk.service.dues}


def test_a_machine_that_stands_here_has_its_points_ready(known: Knowledge, store: FolderStore) -> None:
    """Every point of its manual, with the share of the interval used up; none for a machine that is not here."""
    for job in list(store.state.jobs.values())[:8]:
        machine = store.state.machines[job.machine]
        wanted = {point.id for point in store.state.models[machine.model].service_points}
        if wanted and not isinstance(memory.past_of(machine, ()).why or None, str):
            assert {due.point for due in known.dues_of(machine.id)} == wanted
            assert all(due.used >= 0 for due in known.dues_of(machine.id))
    assert known.dues_of(0) == ()


def test_the_picture_is_sound_and_what_people_typed_stays_text(store: FolderStore, sample: Path) -> None:
    page = memory_page.look(store.state, read_book(sample), datetime.now(UTC), UTC_ZONE, store.closed_jobs())
    evil = '</text><script>alert("x")</script>&\x1b['
    components = tuple(msgspec.structs.replace(each, name=evil) for each in page.components)
    root = ET.fromstring(svg_of(replace(page, components=components, name=evil)))
    space = "{http://www.w3.org/2000/svg}"
    assert root.findall(f".//{space}script") == []
    drawn = [each for each in page.components if each.ageing.curve.steps]
    curves = [line for line in root.iter(f"{space}polyline") if line.get("class") == "curve"]
    assert len(curves) == len(drawn) > 0
    words = " ".join(text.text or "" for text in root.iter(f"{space}text"))
    assert evil.replace("\x1b", "␛") in words


# -- on the board -----------------------------------------------------------------------------------------------------


async def test_the_memory_opens_in_the_office_and_esc_leads_back_to_the_row(
    sample: Path, reckoned: Reckoning, known: Knowledge
) -> None:
    async with open_board(sample, who="ines") as pilot:
        board = pilot.app
        await type_keys(pilot, "o", "m")
        assert "not reckoned yet" in screen_text(board)
        board.post_message(KnowingApp.Taught(known))
        await until(pilot, lambda: "watch" in screen_text(board), "the rows")
        await walk_to(pilot, "Osmere 60: wheel")
        await type_keys(pilot, "enter")
        assert isinstance(board.screen, CellDialog) and "being reckoned" in screen_text(board)
        board.post_message(KnowingApp.Taught(reckoned.page("wheel-motor-seal", "osmere-60")))
        await until(pilot, lambda: "11 failures" in screen_text(board), "the page")
        await type_keys(pilot, "escape")
        assert isinstance(board.screen, MemoryDialog) and "Osmere 60: wheel" in row_here(board)
        await type_keys(pilot, "escape")
        await settled(pilot)
        assert board.place_name == "office"


async def test_choosing_the_model_warns_at_once_and_the_warning_stays(
    sample: Path, store: FolderStore, known: Knowledge
) -> None:
    async with open_board(sample, who="ines", size=(80, 30)) as pilot:
        pilot.app.post_message(KnowingApp.Taught(known))
        await until(pilot, lambda: pilot.app.knowledge is not None, "the closed jobs gone through")
        await type_keys(
            pilot, "n", "=Mole Lane", "enter", "enter", "=osmere 60", "enter", "=S-1", "enter", "=120", "enter"
        )
        shown = " ".join(screen_text(pilot.app).split())
        for said in ("FAILS EARLY:", "11 failures on 9 machines before 500 h", "look at it:", "covers:"):
            assert said in shown
    shuffled = _reckoning(store, sample, shuffled=True).knowledge()
    async with open_board(sample, who="ines", size=(80, 30)) as pilot:
        pilot.app.post_message(KnowingApp.Taught(shuffled))
        await until(pilot, lambda: pilot.app.knowledge is not None, "the closed jobs gone through")
        await type_keys(pilot, "n", "ctrl+n", "=Mole Lane", "enter", "enter", "=osmere 60", "enter", "=S-1", "enter")
        assert "FAILS EARLY" not in screen_text(pilot.app)


@pytest.mark.parametrize("end", [1239.0, 998.0, 1000.0, 2034.5, 37.0, 650.0])
@pytest.mark.parametrize("width", [34, 66, 74, 94])
def test_no_number_under_an_axis_is_cut_short(end: float, width: int) -> None:
    """Every number is a multiple of the step between the first two, and not beyond the end."""
    rule, numbers = (row.text for row in axis_lines(end, "h", width))
    *ticks, unit = numbers.split()
    step = float(ticks[1]) if len(ticks) > 1 else 0.0
    assert [float(tick) for tick in ticks] == [place * step for place in range(len(ticks))]
    assert float(ticks[-1]) <= end and unit == "h" and len(numbers) <= width
    assert rule.count("┴") - len(ticks) in (0, 1)

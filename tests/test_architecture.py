"""What must stay true of the code itself: pure rooms, a light start, short files, nothing public unexplained."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from aids import store_steps
from aids.shops import MORNING, make_shop

import shopboard
from shopboard.places import floor_lines
from shopboard.shop import bays
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.store import open_shop, read_book

ROOT = Path(__file__).parents[1]
PACKAGE = Path(shopboard.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
PURE = ("records", "mechanics", "trouble", "planning", "memory", "estimate", "shop")

#: What touches a screen, a disk, a clock or chance.
IMPURE_MODULES = frozenset(
    {"textual", "rich", "tinydb", "os", "pathlib", "random", "secrets", "time", "tempfile", "subprocess", "shutil"}
)
IMPURE_CALLS = frozenset({"open", "input", "print"})
IMPURE_METHODS = frozenset({"now", "utcnow", "today", "default_rng"})


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def _short(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


# -- pure rooms -----------------------------------------------------------------------------------------------------


def _impurities(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        for name in _imported(node):
            if name.split(".")[0] in IMPURE_MODULES:
                yield node.lineno, f"imports {name}"  # type: ignore[attr-defined]
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id in IMPURE_CALLS:
                yield node.lineno, f"calls {called.id}()"
            if isinstance(called, ast.Attribute) and called.attr in IMPURE_METHODS:
                yield node.lineno, f"calls .{called.attr}()"


def _imported(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom) and not node.level:
        return [node.module or ""]
    return []


def test_pure_rooms_touch_no_screen_file_clock_or_chance() -> None:
    files = [path for room in PURE for path in sorted((PACKAGE / room).rglob("*.py"))]
    assert {path.relative_to(PACKAGE).parts[0] for path in files} >= {"records", "mechanics", "trouble", "shop"}
    found = [f"{_short(path)}:{line} {what}" for path in files for line, what in _impurities(_tree(path))]
    assert not found, "\n".join(found)


BAD = {
    "import os": "imports os",
    "import os.path as p": "imports os.path",
    "from pathlib import Path": "imports pathlib",
    "def f():\n    import random": "imports random",
    "from textual.app import App": "imports textual.app",
    "from time import monotonic": "imports time",
    "open('x')": "calls open()",
    "print(1)": "calls print()",
    "def f():\n    return [input() for _ in x]": "calls input()",
    "import datetime\ndatetime.datetime.now()": "calls .now()",
    "from datetime import date\ndate.today()": "calls .today()",
    "import numpy as np\nnp.random.default_rng()": "calls .default_rng()",
}


@pytest.mark.parametrize("snippet", BAD)
def test_what_a_pure_room_must_not_do_is_noticed(snippet: str) -> None:
    assert BAD[snippet] in [what for _, what in _impurities(ast.parse(snippet))]


def test_what_a_pure_room_may_do_is_let_through() -> None:
    fine = "from datetime import datetime, time\nfrom .time import of\nimport numpy as np\ndef f(now, s): s.opened(now)"
    assert list(_impurities(ast.parse(fine))) == []


# -- a light start --------------------------------------------------------------------------------------------------

HEAVY = ("numpy", "scipy", "pint", "rapidfuzz", "holidays")
_ASK = f"import sys; print(*sorted(set({HEAVY!r}) & set(sys.modules)))"


def _heavy_after(code: str, *arguments: str) -> str:
    command = [sys.executable, "-c", f"{code}\n{_ASK}", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()[-1].strip()


def test_heavy_libraries_are_noticed() -> None:
    assert _heavy_after("import rapidfuzz, numpy") == "numpy rapidfuzz"


@pytest.mark.parametrize("module", ["shopboard.places.app", "shopboard.cli", "shopboard.shop", "shopboard.store"])
def test_no_heavy_library_comes_with(module: str) -> None:
    assert _heavy_after(f"import {module}") == ""


def test_no_heavy_library_comes_with_the_glance(tmp_path: Path) -> None:
    code = """
import sys
from shopboard.cli import run
assert run(["new", sys.argv[1]]) == 0 and run(["glance", "--shop", sys.argv[1]]) == 0
"""
    assert _heavy_after(code, str(tmp_path / "shop")) == ""


_FIRST_SCREEN = """
import asyncio, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from aids.boards import screen_text
from shopboard.places.app import Board
from shopboard.store import open_shop, read_book

async def first_screen(folder):
    board = Board(open_shop(folder), read_book(folder), "ana", folder=folder)
    async with board.run_test(size=(100, 24)) as pilot:
        await pilot.pause()
        shown = screen_text(board)
        assert "T-0001 pump" in shown, shown

asyncio.run(first_screen(Path(sys.argv[1])))
"""


def test_the_board_paints_its_first_screen_without_heavy_libraries(tmp_path: Path) -> None:
    """The Floor shows the likely cause that was kept with the job, and computes none; which days are public holidays
    it has from the last plan, or with the next."""
    store, book = make_shop(tmp_path / "shop"), read_book(None)
    machine = NewMachine(model="in-line-1", serial="A")
    taken = Intake(
        customer=NewCustomer(name="Hill"), machine=machine, complaint="slow when warm", symptoms=("weak-when-hot",)
    )
    store.commit("ana", lambda state, now: take_in(state, now, "ana", taken, book=book))
    store.commit("ana", lambda state, now: bays.put(state, now, "ana", 1, "1"))
    store.close()
    settings = (tmp_path / "shop" / "shop.toml").read_text("utf-8")
    (tmp_path / "shop" / "shop.toml").write_text(f'country = "AT"\n{settings}', encoding="utf-8")
    assert _heavy_after(_FIRST_SCREEN, str(tmp_path / "shop"), str(ROOT / "tests")) == ""


#: Rooms and places of ours that the first screen needs nothing of: they cost as much as the rest of the start.
LATER = (
    "shopboard.memory",
    "shopboard.mechanics",
    "shopboard.shop.intake",
    "shopboard.shop.moves",
    "shopboard.paper",
    "shopboard.places.bench",
    "shopboard.places.counter",
    "shopboard.planning.search",
    "shopboard.store.erasing",
    "shopboard.store.undo",
    "shopboard.trouble.learning",
)


def test_what_other_places_need_does_not_come_with_the_first_screen(tmp_path: Path) -> None:
    make_shop(tmp_path / "shop").close()
    code = _FIRST_SCREEN.replace('assert "T-0001 pump" in shown, shown', 'assert "no machine here" in shown, shown')
    code += f"\nprint(*sorted(set({LATER!r}) & set(sys.modules)))"
    command = [sys.executable, "-c", code, str(tmp_path / "shop"), str(ROOT / "tests")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1].strip() == ""


def test_the_first_screen_reads_no_closed_job(tmp_path: Path) -> None:
    """They are most of what a shop holds after some years."""
    store = make_shop(tmp_path / "shop")
    store.commit("cy", store_steps.take_in())
    store.commit("cy", store_steps.collect(1))
    store.commit("cy", store_steps.take_in())
    store.close()
    state = open_shop(tmp_path / "shop", closed_later=True).state
    floor = floor_lines.look(state, read_book(None), MORNING, ZoneInfo("UTC"), holidays={})
    assert any("T-0002" in row.text for row in floor_lines.floor_lines(floor, 80))
    assert "closed" not in vars(state)
    assert [*state.closed] == [1] and "closed" in vars(state)


# -- short files, short functions, everything explained -------------------------------------------------------------

_Defined = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def _defined(tree: ast.AST) -> Iterator[_Defined]:
    return (node for node in ast.walk(tree) if isinstance(node, _Defined))


def test_no_file_is_longer_than_400_lines() -> None:
    long = {_short(path): count for path in FILES if (count := len(path.read_text("utf-8").splitlines())) > 400}
    assert not long, long


def test_no_function_is_longer_than_60_lines() -> None:
    long = {
        f"{_short(path)}:{node.name}": node.end_lineno - node.lineno + 1
        for path in FILES
        for node in _defined(_tree(path))
        if not isinstance(node, ast.ClassDef) and node.end_lineno and node.end_lineno - node.lineno + 1 > 60
    }
    assert not long, long


def _public(body: list[ast.stmt], prefix: str = "") -> Iterator[tuple[str, _Defined]]:
    """Public functions, classes and their methods, without a framework's hooks, whose names say when they run."""
    for node in body:
        if isinstance(node, _Defined) and not node.name.startswith(("_", "on_", "watch_")):
            yield prefix + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from _public(node.body, f"{node.name}.")


def test_everything_public_is_explained() -> None:
    silent = [
        f"{_short(path)}:{node.lineno} {name}"
        for path in FILES
        for name, node in _public(_tree(path).body)
        if not ast.get_docstring(node)
    ]
    assert not silent, "\n".join(silent)


def test_every_module_says_what_it_is() -> None:
    silent = [_short(path) for path in FILES if not ast.get_docstring(_tree(path))]
    assert not silent, silent


def test_something_public_and_silent_is_noticed() -> None:
    code = "class A:\n    'a'\n    def b(self): ...\n    def _c(self): ...\ndef d(): ..."
    assert [name for name, node in _public(ast.parse(code).body) if not ast.get_docstring(node)] == ["A.b", "d"]


# -- dependencies ---------------------------------------------------------------------------------------------------

#: What is used without being imported, and where that can be read. (What uses tzdata is tested further down.)
USED_OTHERWISE = {
    "pytest-asyncio": ("pyproject.toml", "asyncio_mode"),
    "pytest-xdist": ("pyproject.toml", "--dist worksteal"),
    "ruff": (".ci/run", "/ruff"),
    "mypy": (".ci/run", "/mypy"),
    "import-linter": (".ci/run", "/lint-imports"),
}


def _dependencies() -> set[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [*project["dependencies"], *(one for extra in project["optional-dependencies"].values() for one in extra)]
    return {match[0].lower() for one in wanted if (match := re.match(r"[A-Za-z0-9_.-]+", one))}


@cache
def _all_imported() -> set[str]:
    files = [*FILES, *sorted((ROOT / "tests").rglob("*.py"))]
    return {name.split(".")[0] for path in files for node in ast.walk(_tree(path)) for name in _imported(node) if name}


_distributions = cache(packages_distributions)


def _modules_of(dependency: str) -> set[str]:
    """The modules a distribution brings; by its name where it is not installed here."""
    found = {module for module, names in _distributions().items() if dependency in map(str.lower, names)}
    return found or {dependency.replace("-", "_")}


@pytest.mark.parametrize("dependency", sorted(_dependencies() - USED_OTHERWISE.keys() - {"tzdata"}))
def test_every_dependency_is_imported(dependency: str) -> None:
    assert _modules_of(dependency) & _all_imported(), f"nothing imports {dependency}"


@pytest.mark.parametrize("tool", sorted(USED_OTHERWISE))
def test_every_tool_is_used(tool: str) -> None:
    assert tool in _dependencies()
    file, said = USED_OTHERWISE[tool]
    assert said in (ROOT / file).read_text("utf-8")


def test_zones_are_known_where_the_system_has_none() -> None:
    """What tzdata is there for."""
    code = "from zoneinfo import ZoneInfo; print(ZoneInfo('Europe/Vienna'))"
    done = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONTZPATH": ""}, capture_output=True, text=True, timeout=60
    )
    assert done.stdout.strip() == "Europe/Vienna", done.stderr

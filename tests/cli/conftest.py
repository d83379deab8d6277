"""A small shop, and commands run in this process."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from aids.commands import Done
from aids.desk import small_day
from aids.shops import MORNING

from shopboard import cli


@pytest.fixture(scope="session")
def _small_day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("small day") / "shop"
    small_day(folder)
    return folder


@pytest.fixture
def shop(_small_day: Path, tmp_path: Path) -> Path:
    """The folder of a small shop of its own."""
    return shutil.copytree(_small_day, tmp_path / "shop")


@pytest.fixture
def at_once(capsysbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Done]:
    """Run a command in this process, an hour after the shop's morning, with no terminal."""
    monkeypatch.delenv("SHOPBOARD_SHOP", raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setattr("shopboard.store.utc_now", lambda: MORNING + timedelta(hours=1))

    def run(*arguments: str | Path) -> Done:
        capsysbinary.readouterr()
        code = cli.run([str(argument) for argument in arguments])
        out, err = capsysbinary.readouterr()
        return Done(code, out.decode(), err.decode())

    return run

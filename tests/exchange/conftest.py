"""A small shop to bring lists into."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from aids.commands import Done
from aids.quick_place import quick_place
from aids.shops import MORNING, make_shop

from shopboard import cli


@pytest.fixture
def tmp_path(tmp_path: Path) -> Iterator[Path]:
    """A place in memory where there is one."""
    with quick_place(tmp_path) as place:
        yield place


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """The folder of a new shop with people and models."""
    make_shop(tmp_path / "shop").close()
    return tmp_path / "shop"


@pytest.fixture
def run(capsysbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch, shop: Path) -> Callable[..., Done]:
    """Run a command on the shop in this process, on the shop's morning, with no terminal."""
    monkeypatch.delenv("SHOPBOARD_SHOP", raising=False)
    monkeypatch.setattr("shopboard.store.utc_now", lambda: MORNING)

    def command(*arguments: str | Path) -> Done:
        capsysbinary.readouterr()
        code = cli.run([*map(str, arguments), *([] if "--shop" in arguments else ["--shop", str(shop)])])
        out, err = capsysbinary.readouterr()
        return Done(code, out.decode(), err.decode())

    return command

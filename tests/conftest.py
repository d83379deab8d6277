"""Options of the whole test run."""

from __future__ import annotations

from secrets import token_hex

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--update-goldens` writes the golden screens anew instead of comparing with them."""
    parser.addoption("--update-goldens", action="store_true", help="write the golden screens in tests/screens anew")


@pytest.fixture(autouse=True)
def _settings_of_nobody(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads or writes what the person who runs it, or another test, has chosen."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.getbasetemp() / "cache"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.getbasetemp() / f"settings-{token_hex(6)}"))

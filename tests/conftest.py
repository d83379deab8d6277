"""Options of the whole test run."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--update-goldens` writes the golden screens anew instead of comparing with them."""
    parser.addoption("--update-goldens", action="store_true", help="write the golden screens in tests/screens anew")

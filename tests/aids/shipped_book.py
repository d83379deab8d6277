"""The trouble book as shipped."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from shopboard.trouble import Book, load_book

FOLDER = Path(__file__).parents[2] / "shopboard" / "trouble" / "book"


@cache
def shipped_book() -> Book:
    """Every TOML file of the shipped book, loaded."""
    return load_book({path.name: path.read_text("utf-8") for path in sorted(FOLDER.glob("*.toml"))})

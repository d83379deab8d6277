"""An invented shop to try the board on: its settings, models, a page of its own for the book, and three years of work.

`copy_to(folder, now)` makes a shop of it whose today is the day of `now`. README.md beside this file says what is
invented (everything) and how the dates move.
"""

from __future__ import annotations

import gzip
import re
import tomllib
from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from sample_shop.slide import Slide

__all__ = ["SAMPLE_NOW", "Slide", "copy_to", "slide_to"]

#: The moment the sample was written for: a Tuesday, 10:42 on the shop's wall.
SAMPLE_NOW = datetime(2025, 11, 18, 15, 42, tzinfo=UTC)

_SHELF: Traversable = files("sample_shop")
_TEXTS = ("shop.toml", "models.toml", "parts.toml", "book/wheel_motor_seals.toml")
#: A moment of the journal, or a date without a time. No text of the sample holds figures of this shape otherwise.
_DATED = re.compile(r"\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\d(?:\.\d+)?Z)?")


def copy_to(folder: Path, now: datetime) -> None:
    """Make the sample shop in `folder`, which must not exist yet or be empty, as it would stand at `now` (with a zone).

    Raises FileExistsError where something is there already, ValueError for a `now` without a zone, OSError as the disk
    does.
    """
    from shopboard.records import Change, decode
    from shopboard.store import journal, open_shop
    from shopboard.store.disk import make_folder

    slide = slide_to(now)
    folder = Path(folder)
    if folder.exists() and any(folder.iterdir()):
        raise FileExistsError(f"{folder} is there already and not empty")
    for made in (folder, folder / "book"):
        make_folder(made)
    for name in _TEXTS:
        _write(folder / name, _SHELF.joinpath(name).read_bytes())
    open_shop(folder).close()  # an empty shop, whose journal is then the sample's
    lines = b"".join(journal.line_of(decode(body, Change)) for body in _slid(slide))
    _write(journal.segment_path(folder / "journal", 1), lines)
    shop = open_shop(folder)
    shop.checkpoint()
    shop.close()


def slide_to(now: datetime) -> Slide:
    """The line from the sample's time to `now`, by the sample shop's own zone and hours."""
    settings = tomllib.loads(_SHELF.joinpath("shop.toml").read_text(encoding="utf-8"))
    opens, _, closes = settings["hours"]["mon"].partition("-")
    return Slide(SAMPLE_NOW, now, settings["zone"], time.fromisoformat(opens), time.fromisoformat(closes))


def _slid(slide: Slide) -> Iterator[str]:
    """The changes of the journal, oldest first, as JSON with their dates moved."""
    known: dict[str, str] = {}

    def moved(found: re.Match[str]) -> str:
        text = found[0]
        if text not in known:
            known[text] = _moved(text, slide)
        return known[text]

    packed = _SHELF.joinpath("journal.jsonl.gz").read_bytes()
    for line in gzip.decompress(packed).decode().splitlines():
        yield _DATED.sub(moved, line)


def _moved(text: str, slide: Slide) -> str:
    if len(text) == 10:
        return slide.day(date.fromisoformat(text)).isoformat()
    return slide.moment(datetime.fromisoformat(text)).isoformat().replace("+00:00", "Z")


def _write(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    path.chmod(0o600)

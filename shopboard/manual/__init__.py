"""`shopboard help TOPIC`: a page on each place, made from the registry of keys, and on what has no place."""

from __future__ import annotations

import shutil
import textwrap
from importlib.resources import files

from shopboard.places.actions import PLACES
from shopboard.places.help_lines import help_page
from shopboard.places.lines import plain

#: What a page is about, by topic, in the order in which they are listed; the places come first.
TOPICS = {
    "triage": "likely causes, next checks, the tree, and what they rest on",
    "measuring": "timed runs, creep, slope, joints, recordings, and calc",
    "estimate": "labour with covers counted once, who pays, approval, words to say",
    "plan": "who does which job when, dates that hold, who is away",
    "memory": "what closed jobs teach, and how the trouble book learns",
    "people": "who signs, roles, PINs, the lock, and what they protect",
    "keeping": "backup, restore, verify, history, undo, several terminals",
    "lists": "import and export, calendar, a customer's own data, erasing",
    "database": "one shop on several machines, and branches",
    "files": "what a shop edits: shop.toml, models.toml, parts.toml, book",
    "terminal": "looks, colours, a wall screen, scanners, and text instead of the board",
    "safety": "what the figures are, and what comes first",
}


def topics() -> str:
    """All topics with what each is about, a line each."""
    rows = [*((place, purpose) for place, (_, _, purpose) in PLACES.items()), *TOPICS.items()]
    return "\n".join(f"  {topic:<11}{about}" for topic, about in rows)


def page(topic: str, width: int = 80) -> str | None:
    """The page on a topic as text of this width; None where there is no such topic."""
    if topic in PLACES:
        return plain(help_page(topic)(width))
    if topic not in TOPICS:
        return None
    text = files(__package__).joinpath(f"{topic}.txt").read_text(encoding="utf-8")
    return "\n\n".join(_filled(paragraph, width) for paragraph in text.strip().split("\n\n"))


def _filled(paragraph: str, width: int) -> str:
    """A paragraph over lines of this width; indented lines, which are commands or tables, stay as they are."""
    if paragraph.startswith("  "):
        return paragraph
    return textwrap.fill(" ".join(paragraph.split()), max(40, min(width, 100)))


def show(topic: str | None) -> str | None:
    """What `shopboard help` prints; None where there is no such topic."""
    if topic is None:
        return f"shopboard help TOPIC:\n\n{topics()}\n\n`shopboard --help` lists the commands."
    return page(topic.lower(), shutil.get_terminal_size().columns)

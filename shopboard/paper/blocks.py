"""What a paper says, free of how it is printed: blocks of a sheet, and the lines of a label."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Look = Literal["plain", "strong", "small", "caution"]


@dataclass(frozen=True)
class Heading:
    """A heading; it stays with what follows."""

    text: str


@dataclass(frozen=True)
class Words:
    """A paragraph; `indent` counts steps to the right, `keep` holds it on the page of what follows. Line ends in the
    text stay."""

    text: str
    look: Look = "plain"
    indent: int = 0
    keep: bool = False


@dataclass(frozen=True)
class Facts:
    """Pairs of a label and what stands there; a pair with nothing to say is left out."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """A column of a table: its title, its share of the width, and whether it stands to the right."""

    title: str
    share: float
    right: bool = False


@dataclass(frozen=True)
class Row:
    """A row of a table; `strong` for sums."""

    cells: tuple[str, ...]
    strong: bool = False


@dataclass(frozen=True)
class Table:
    """A table; its titles are repeated on every page it runs over."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Sign:
    """Places to sign, side by side, each with what it is for."""

    places: tuple[str, ...]


Block = Heading | Words | Facts | Table | Sign


@dataclass(frozen=True)
class Sheet:
    """A paper on sheets: `head` stands at the top of each page beside the title, `foot` at the bottom."""

    title: str
    head: str
    foot: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Label:
    """A small label: a large title, its machine-readable code (digits only), lines of (what, text) in order of weight,
    and the shop's name."""

    title: str
    code: str
    lines: tuple[tuple[str, str], ...]
    head: str


@dataclass(frozen=True)
class Labels:
    """Several labels, one a page."""

    title: str
    labels: tuple[Label, ...]


Paper = Sheet | Label | Labels


def table(columns: tuple[Column, ...], *rows: tuple[str, ...], sums: tuple[tuple[str, ...], ...] = ()) -> Table:
    """A table of plain rows, with strong ones for `sums` below."""
    return Table(columns, (*(Row(cells) for cells in rows), *(Row(cells, strong=True) for cells in sums)))

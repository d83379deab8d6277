"""Which column is which field: guessed from the headings in the trade's words, told, and set right by the person."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from shopboard.records import Refused

from .fields import FIELDS, Field, field_of
from .sheet import Row, Sheet, letters, texts

#: Headings this alike (0 to 100) are taken for the same; the head of a list stands within so many rows.
ALIKE, WITHIN = 86, 20
#: Said of a column that is to be left out.
LEFT_OUT = "-"


@dataclass(frozen=True)
class Column:
    """A column of the file and the field it is taken for (None: left out); `told` by the person or guessed."""

    index: int
    heading: str
    field: Field | None
    told: bool = False

    @property
    def name(self) -> str:
        """Its heading, or its letter where it has none."""
        return _short(self.heading) or f"column {letters(self.index)}"


def _short(heading: str) -> str:
    """A heading on one line."""
    plain_ = " ".join(heading.split())
    return plain_ if len(plain_) <= 60 else f"{plain_[:59]}…"


@dataclass(frozen=True)
class Mapping:
    """The head row and its columns, and the rows that hold the list."""

    kind: str
    head: int
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]

    def of(self, field: str) -> tuple[Column, ...]:
        """The columns that make up a field."""
        return tuple(column for column in self.columns if column.field and column.field.id == field)

    @property
    def missing(self) -> tuple[Field, ...]:
        """Fields without which no row can be taken."""
        return tuple(field for field in FIELDS[self.kind] if field.needed and not self.of(field.id))


def plain(heading: str) -> str:
    """A heading for comparing: small letters, no accents, words apart.

    >>> plain("  Tel.-No. "), plain("SerialNumber")
    ('tel no', 'serial number')
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    bare = "".join(c for c in unicodedata.normalize("NFKD", apart) if not unicodedata.combining(c)).casefold()
    return " ".join(re.findall(r"[^\W_]+(?:/[^\W_]+)?", bare))


def mapped(sheet: Sheet, kind: str, told: str = "") -> Mapping:
    """The mapping of a sheet: what the person `told` ("Phone=phone,…"), the rest guessed. Raises Refused."""
    asked = _asked(told, kind)
    head = _head(sheet, kind, asked)
    columns = _columns(head, kind, asked)
    rows = tuple(row for row in sheet.rows if row.number > head.number)
    found = Mapping(kind, head.number, columns, rows)
    _check(found)
    return found


def _asked(told: str, kind: str) -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    # A comma may stand in a heading itself: what follows it is the next pair only if it has a sign of its own
    for piece in re.split(r",(?=[^,=]*=)", told) if told.strip() else ():
        heading, sign, id = piece.rpartition("=")
        heading, id = heading.strip(), id.strip()
        if not sign or not heading:
            raise Refused(f"--columns: “{piece.strip()}” is no pair", "write it like 'Phone=phone,Remarks=note'")
        if id != LEFT_OUT and field_of(kind, id) is None:
            known = ", ".join(field.id for field in FIELDS[kind])
            raise Refused(
                f"--columns: {kind} have no field “{id}”", f"they have {known}, and {LEFT_OUT} leaves a column out"
            )
        pairs.append((heading, id))
    return pairs


def _head(sheet: Sheet, kind: str, asked: Sequence[tuple[str, str]]) -> Row:
    """The row that names the columns: among the first, the one that names most of what was asked for or is known."""

    def score(row: Row) -> tuple[int, int, int]:
        found = texts(row)
        named = sum(any(_same(heading, text) for text in found) for heading, _ in asked)
        guesses = [field for field, _, _ in _guesses(found, kind).values()]
        return named, len({field.id for field in guesses if field.needed}), len(guesses)

    best = max(sheet.rows[:WITHIN], key=lambda row: (score(row), -row.number))
    if score(best) == (0, 0, 0) and not any(re.fullmatch(r"[A-Z]{1,2}", heading) for heading, _ in asked):
        needs = ", ".join(field.headings[0] for field in FIELDS[kind] if field.needed)
        raise Refused(
            f"no row names the columns of a list of {kind}", f"head them (at least {needs}), or say --columns 'A=…'"
        )
    return best if score(best) != (0, 0, 0) else Row(0, ())


def _same(heading: str, text: str) -> bool:
    return plain(heading) == plain(text) and bool(plain(text))


def _guesses(found: Sequence[str], kind: str) -> dict[int, tuple[Field, float, bool]]:
    """By column: the field it is most like, how alike, and whether it is only a part of it; the best column a field."""
    scores: list[tuple[float, int, Field, bool]] = []
    for index, text in enumerate(found):
        if text and len(text) <= 60:
            scores += [
                (alike, index, field, part) for field in FIELDS[kind] for alike, part in _alike(plain(text), field)
            ]
    taken: dict[int, tuple[Field, float, bool]] = {}
    whole: set[str] = set()
    for alike, index, field, part in sorted(scores, key=lambda one: (-one[0], one[1])):
        # Remarks may stand in many columns; a name given whole needs no first and last one beside it
        if index in taken or (field.id in whole and (field.joins != "\n" if not part else field.joins == " ")):
            continue
        if not part:
            whole.add(field.id)
            if field.joins == " ":
                taken = {n: one for n, one in taken.items() if one[0].id != field.id}
        taken[index] = (field, alike, part)
    return taken


def _alike(text: str, field: Field) -> Iterable[tuple[float, bool]]:
    from rapidfuzz import fuzz, process

    for part in (False, True):
        choices = _choices(field, part)
        best = process.extractOne(text, choices, scorer=fuzz.ratio, score_cutoff=ALIKE) if choices and text else None
        if best:
            yield best[1] - part * 0.5, part


@cache
def _choices(field: Field, part: bool) -> tuple[str, ...]:
    return tuple(plain(heading) for heading in (field.parts if part else field.headings))


def _columns(head: Row, kind: str, asked: Sequence[tuple[str, str]]) -> tuple[Column, ...]:
    found = texts(head)
    told: dict[int, Field | None] = {}
    for heading, id in asked:
        told[_place(heading, found, told)] = field_of(kind, id)
    fields = {field.id for field in told.values() if field}
    guessed = _guesses([text if n not in told else "" for n, text in enumerate(found)], kind)
    columns = []
    for index in range(max([len(found), *(n + 1 for n in told)])):
        heading = found[index] if index < len(found) else ""
        field = told.get(index)
        if index not in told and index in guessed and guessed[index][0].id not in fields:
            field = guessed[index][0]
        columns.append(Column(index, heading, field, index in told))
    return tuple(columns)


def _place(heading: str, found: Sequence[str], told: dict[int, Field | None]) -> int:
    for index, text in enumerate(found):
        if _same(heading, text) and index not in told:
            return index
    if re.fullmatch(r"[A-Z]{1,2}", heading := heading.removeprefix("column ")):
        return next(n for n in range(26 * 27) if letters(n) == heading)
    raise Refused(
        f"--columns: there is no column “{heading}”",
        f"there are {', '.join(filter(None, map(_short, found))) or 'no headings'}",
    )


def _check(found: Mapping) -> None:
    for field in FIELDS[found.kind]:
        columns = found.of(field.id)
        if len(columns) > 1 and not field.joins:
            both = " and ".join(column.name for column in columns)
            raise Refused(
                f"{both} cannot both be {field.id}", f"leave one out: --columns '{columns[-1].name}={LEFT_OUT}'"
            )
    if found.missing:
        needs = " and ".join(f"{field.label} ({field.id})" for field in found.missing)
        there = ", ".join(column.name for column in found.columns if not column.field) or "none left"
        raise Refused(
            f"no column gives {needs}",
            f"say which does with --columns 'HEADING={found.missing[0].id}'; there are {there}",
        )

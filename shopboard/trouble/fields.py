"""Reading the fields of one entry of the book, with errors that name file, entry and mend."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from difflib import get_close_matches
from typing import Any, TypeVar

import msgspec

from shopboard.records import FieldError, to_record

from .book import ALL_LAYOUTS

S = TypeVar("S")


class BookError(msgspec.Struct, frozen=True):
    """One mistake in a book: in which file and entry, what is wrong, and how to mend it."""

    file: str
    entry: str
    why: str
    mend: str

    def __str__(self) -> str:
        return f"{self.file}: {self.entry}: {self.why}: {self.mend}"


class BookErrors(ValueError):
    """A book that cannot be used; `errors` are all its mistakes, one line each in the text."""

    def __init__(self, errors: Iterable[BookError]) -> None:
        self.errors = tuple(errors)
        super().__init__("\n".join(map(str, self.errors)))


def meant(word: str, known: Iterable[str]) -> str:
    """What somebody who wrote `word` should write instead: the nearest known words, or all of them if few."""
    known = sorted(known)
    near = get_close_matches(word, known, n=2, cutoff=0.6)
    if near:
        return f"did you mean {' or '.join(near)}?"
    return f"use one of: {', '.join(known)}" if 0 < len(known) <= 12 else "write one that the book has, or add it"


class Fields:
    """The fields of one raw entry. Each reader takes one field out; mistakes go to `errors`; `end` tells leftovers."""

    def __init__(self, file: str, kind: str, id: str, data: Mapping[str, Any], errors: list[BookError]) -> None:
        self.file, self.id, self.entry = file, id, f"{kind}.{id}"
        self.data, self.errors = dict(data), errors
        self.known: list[str] = []

    def wrong(self, why: str, mend: str) -> None:
        """Note a mistake of this entry."""
        self.errors.append(BookError(self.file, self.entry, why, mend))

    def take(self, name: str) -> Any:
        """The raw value of a field, or None if it is not there."""
        self.known.append(name)
        return self.data.pop(name, None)

    def text(self, name: str, default: str | None = None) -> str:
        """A text field; without a default it must be there and say something."""
        value = self.take(name)
        if value is None and default is not None:
            return default
        if not isinstance(value, str) or not (value.strip() or default == ""):
            self.wrong(f"{name} is missing" if value is None else f"{name} must be a text", f'write {name} = "…"')
            return default or ""
        return value.strip()

    def number(self, name: str, default: float | None = None, least: float = 0.0) -> float:
        """A number of at least `least`; without a default it must be there."""
        value = self.take(name)
        if value is None and default is not None:
            return default
        return self._number(name, value, least)

    def _number(self, name: str, value: Any, least: float = 0.0) -> float:
        if value is None:
            self.wrong(f"{name} is missing", f"write {name} = 10, a number")
        elif isinstance(value, str):
            self.wrong(f"{name} is a text, {value!r}", f"write the plain number, without unit: {name} = 10")
        elif isinstance(value, bool) or not isinstance(value, int | float) or value != value:
            self.wrong(f"{name} must be a number", f"write {name} = 10")
        elif not least <= value < 1e6:
            self.wrong(f"{name} is {value:g}", f"write a number from {least:g} up")
        else:
            return float(value)
        return least

    def words(self, name: str) -> tuple[str, ...]:
        """A list of texts, empty if the field is not there."""
        return self._words(name, self.take(name))

    def lists(self, name: str) -> tuple[tuple[str, ...], ...]:
        """A list of lists of texts, empty if the field is not there."""
        value = self.take(name)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(each, list) and each for each in value):
            self.wrong(f"{name} must be a list of lists", f'write {name} = [["…"], ["…"]]')
            return ()
        return tuple(self._words(name, each) for each in value)

    def _words(self, name: str, value: Any) -> tuple[str, ...]:
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(word, str) and word.strip() for word in value):
            self.wrong(f"{name} must be a list of texts", f'write {name} = ["…"]')
            return ()
        for word in sorted({word for word in value if value.count(word) > 1}):
            self.wrong(f"{name} names {word} twice", "take one out")
        return tuple(value)

    def scale(self, name: str, words: Mapping[str, float], value: Any = None) -> float:
        """The number behind a word of a scale, in field `name` (or as given in `value`)."""
        value = self.take(name) if value is None else value
        if isinstance(value, str) and value in words:
            return words[value]
        if value is None:
            self.wrong(f"{name} is missing", f"use one of: {', '.join(words)}")
        else:
            self.wrong(f"{name} is {value!r}, not a word of the scale", meant(str(value), words))
        return next(iter(words.values()))

    def choice(self, name: str, allowed: Collection[str]) -> str:
        """A text that must be one of `allowed`."""
        value = self.take(name)
        if value in allowed:
            return str(value)
        self.wrong(f"{name} is missing" if value is None else f"{name} is {value!r}", meant(str(value), allowed))
        return next(iter(allowed))

    def layouts(self) -> tuple[str, ...]:
        """The layouts the entry holds for; all when it does not say."""
        named = self.words("layouts")
        for word in named:
            if word not in ALL_LAYOUTS:
                self.wrong(f"layouts names {word!r}", meant(word, ALL_LAYOUTS))
        kept = tuple(layout for layout in ALL_LAYOUTS if layout in named)
        return kept or ALL_LAYOUTS

    def covers(self, layouts: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
        """Covers by layout, from a list for all of them or a table by layout."""
        value = self.take("covers")
        if not isinstance(value, dict):
            listed = self._words("covers", value)
            return dict.fromkeys(layouts, listed) if listed else {}
        by = {layout: self._words(f"covers.{layout}", listed) for layout, listed in value.items()}
        return {layout: by[layout] for layout in self._by_layout("covers", by, layouts)}

    def minutes(self, layouts: tuple[str, ...]) -> tuple[float, dict[str, float]]:
        """Minutes: the greatest, and by layout where the entry says so."""
        value = self.take("minutes")
        if not isinstance(value, dict):
            return self._number("minutes", value), {}
        by = {layout: self._number(f"minutes.{layout}", number) for layout, number in value.items()}
        self._by_layout("minutes", by, layouts)
        for layout in layouts:
            if layout not in by:
                self.wrong(f"minutes has no number for {layout}", f"write minutes = {{ {layout} = 10, … }}")
        return max(by.values(), default=0.0), by

    def _by_layout(self, name: str, by: Collection[str], layouts: tuple[str, ...]) -> list[str]:
        for layout in by:
            if layout not in layouts:
                self.wrong(f"{name} names {layout!r}, where the entry does not hold", meant(layout, layouts))
        return [layout for layout in by if layout in layouts]

    def tables(self, name: str, kind: type[S]) -> tuple[S, ...]:
        """A list of small tables of one kind."""
        value = self.take(name)
        try:
            return to_record(value or [], tuple[kind, ...], self.entry)  # type: ignore[valid-type]
        except FieldError as error:
            self.wrong(f"{name}{error.path}: {error.why}", f"write {name} as the format says")
            return ()

    def table(self, name: str) -> dict[str, Any]:
        """A table, empty if the field is not there."""
        value = self.take(name)
        if value is None or isinstance(value, dict):
            return value or {}
        self.wrong(f"{name} must be a table", f"write {name} = {{ … }}")
        return {}

    def end(self) -> None:
        """Tell the fields nobody read."""
        for name in self.data:
            self.wrong(f"unknown field {name}", meant(name, self.known))

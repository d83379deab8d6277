"""From the texts of its files to a book: parsed, a shop's additions merged, every mistake told at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from .book import Book
from .entries import KINDS
from .fields import BookError, BookErrors, Fields, meant
from .references import reference_errors

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
#: kind -> id -> (file it stands in, raw fields)
Raw = dict[str, dict[str, tuple[str, dict[str, Any]]]]


def load_book(texts: Mapping[str, str], additions: Mapping[str, str] | None = None) -> Book:
    """The book in `texts` (file name to TOML text) with a shop's `additions` in the same form merged over it.

    Raises BookErrors with every mistake, each naming file, entry and mend.
    """
    errors: list[BookError] = []
    raw: Raw = {kind: {} for kind in KINDS}
    for file, text in texts.items():
        _add(raw, file, _parsed(file, text, errors), errors)
    shop: Raw = {kind: {} for kind in KINDS}
    for file, text in (additions or {}).items():
        _add(shop, file, _parsed(file, text, errors), errors)
    _merge(raw, shop)
    made: dict[str, dict[str, Any]] = {kind: _made(kind, raw[kind], errors) for kind in KINDS}
    files = {f"{kind}.{id}": file for kind, entries in raw.items() for id, (file, _) in entries.items()}
    book = Book(
        symptoms=made["symptom"],
        checks=made["check"],
        causes=made["cause"],
        corrections=made["correction"],
        covers=made["cover"],
        service_points=made["service"],
        cautions=made["caution"],
    )
    broken = {error.entry for error in errors}
    errors += reference_errors(book, {kind: set(entries) for kind, entries in raw.items()}, files, broken)
    if errors:
        raise BookErrors(errors)
    return book


def _parsed(file: str, text: str, errors: list[BookError]) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        why, _, place = str(error).partition(" (at ")
        errors.append(BookError(file, place.rstrip(")") or "end", f"not TOML: {why}", _toml_mend(why)))
    except RecursionError:
        errors.append(BookError(file, "", "brackets stand in brackets without end", "close them"))
    return {}


def _toml_mend(why: str) -> str:
    if "twice" in why or "Cannot" in why:
        return "an entry or field of this name stands above: rename one or take it out"
    return "look for a missing quote, bracket, comma or equals sign there"


def _add(raw: Raw, file: str, data: Mapping[str, Any], errors: list[BookError]) -> None:
    for kind, entries in data.items():
        if kind not in KINDS or not isinstance(entries, dict):
            errors.append(BookError(file, kind, "no such kind of entry", meant(kind, KINDS)))
            continue
        for id, fields in entries.items():
            where = f"{kind}.{id}"
            if not isinstance(fields, dict):
                errors.append(BookError(file, where, "not an entry", f"write [{kind}.ID] and the fields under it"))
            elif not _ID.fullmatch(id):
                errors.append(BookError(file, where, "not an id", "use small letters and figures joined by -"))
            elif id in raw[kind]:
                errors.append(BookError(file, where, f"stands in {raw[kind][id][0]} too", "rename one or take it out"))
            else:
                raw[kind][id] = (file, fields)


def _merge(raw: Raw, shop: Raw) -> None:
    for kind, entries in shop.items():
        for id, (file, fields) in entries.items():
            if fields.get("drop") is True and id in raw[kind]:
                del raw[kind][id]
            elif id in raw[kind]:
                raw[kind][id] = (file, _over(raw[kind][id][1], fields))
            else:
                raw[kind][id] = (file, fields)


def _over(below: Mapping[str, Any], above: Mapping[str, Any], depth: int = 0) -> dict[str, Any]:
    """Fields `above` over those `below`; `shows`, `answers` and `outcomes` go key by key."""
    merged = dict(below)
    for name, value in above.items():
        inner = depth > 0 or name in ("shows", "answers", "outcomes")
        if inner and isinstance(value, dict) and isinstance(below.get(name), dict):
            merged[name] = _over(below[name], value, depth + 1)
        else:
            merged[name] = value
    return merged


def _made(kind: str, entries: Mapping[str, tuple[str, dict[str, Any]]], errors: list[BookError]) -> dict[str, Any]:
    made = {}
    for id, (file, data) in entries.items():
        fields = Fields(file, kind, id, data, errors)
        before = len(errors)
        entry = KINDS[kind](fields)
        fields.end()
        if len(errors) == before:
            made[id] = entry
    return made

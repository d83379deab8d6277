"""What the record reader says about a wrong field, in words a person can act on."""

from __future__ import annotations

import difflib
import re
from decimal import Decimal
from enum import StrEnum
from typing import Any, Literal, get_args, get_origin, get_type_hints

import msgspec

from shopboard.records import FieldError

_EXAMPLES: dict[object, str] = {
    str: '"…"',
    int: "2",
    float: "0.8",
    bool: "true",
    Decimal: "62.50",
    tuple: '["…", "…"]',
    dict: '{ … = "…" }',
}
_NAMES = {
    "str": "text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "decimal": "a number",
    "array": "a list",
    "object": "a table",
}


def what_is_right(data: Any, kind: type, error: FieldError) -> tuple[str, str, str]:
    """The path with entries counted from 1, what is wrong, and what would be right, in plain words."""
    parts = _named(data, kind, re.findall(r"[^.\[\]]+|\[\d+\]|\[\.\.\.\]", error.path))
    here = _type_at(kind, parts)
    path = _counted(parts)
    unknown = re.search(r"unknown field `(.*)`", error.why)
    if unknown:
        return _under(path, unknown[1]), "is not known here", _nearest(unknown[1], _fields(here))
    missing = re.search(r"missing required field `(.*)`", error.why)
    if missing:
        return _under(path, missing[1]), "is missing", f"write {missing[1]} = {_example(_type_at(here, [missing[1]]))}"
    key = re.search(r"Invalid enum value '(.*)' - at `key` in `\$\.?(.*)`", error.why)
    if key:
        return (
            _under(key[2], key[1]),
            "is not known here",
            _nearest(key[1], _choices(_key_type(_type_at(kind, [key[2]])))),
        )
    value = re.search(r"Invalid enum value (.*)", error.why)
    if value:
        return path, f"{value[1]} is not one of the choices", f"choose {_or(_choices(here))}"
    if "matching regex" in error.why:
        return path, f"{_value_at(data, parts)!r} is no span of a day", 'write it like "08:00-17:00"'
    return path, _plain(error.why, _value_at(data, parts)), f"write it like {_example(here)}"


def _named(data: Any, kind: type, parts: list[str]) -> list[str]:
    """The path with the key of the entry that is wrong where the reader only says that one of a table is."""
    if not parts or parts[-1] != "[...]":
        return parts
    table, wanted = _value_at(data, parts[:-1]), _type_at(kind, parts, bare=False)
    for key, value in table.items() if isinstance(table, dict) else ():
        try:
            msgspec.convert(value, type=wanted)
        except msgspec.ValidationError:
            return [*parts[:-1], str(key)]
    return parts


def _under(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _counted(parts: list[str]) -> str:
    text = ""
    for part in parts:
        if re.fullmatch(r"\[\d+\]", part):
            text += f"[{int(part[1:-1]) + 1}]"
        elif part != "[...]":
            text = _under(text, part)
    return text


def _bare(kind: Any) -> Any:
    """The type without its limits and without None."""
    while hasattr(kind, "__metadata__"):
        kind = kind.__origin__
    options = [option for option in get_args(kind) if option is not type(None)]
    if type(None) in get_args(kind) and len(options) == 1:
        return _bare(options[0])
    return kind


def _type_at(kind: Any, parts: list[str], *, bare: bool = True) -> Any:
    for part in parts:
        kind = _bare(kind)
        if part.startswith("["):
            arguments = get_args(kind)
            kind = (arguments[-1] if get_origin(kind) is dict else arguments[0]) if arguments else object
        elif isinstance(kind, type) and issubclass(kind, msgspec.Struct):
            kind = get_type_hints(kind, include_extras=True).get(part, object)
        elif get_origin(kind) is dict:
            kind = get_args(kind)[1]
    return _bare(kind) if bare else kind


def _value_at(data: Any, parts: list[str]) -> Any:
    for part in parts:
        try:
            data = data[int(part[1:-1])] if re.fullmatch(r"\[\d+\]", part) else data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _fields(kind: Any) -> list[str]:
    return list(kind.__struct_fields__) if isinstance(kind, type) and issubclass(kind, msgspec.Struct) else []


def _key_type(kind: Any) -> Any:
    return get_args(kind)[0] if get_origin(kind) is dict else object


def _choices(kind: Any) -> list[str]:
    if get_origin(kind) is Literal:
        return [str(choice) for choice in get_args(kind)]
    return [str(choice) for choice in kind] if isinstance(kind, type) and issubclass(kind, StrEnum) else []


def _or(words: list[str]) -> str:
    return " or ".join(f'"{word}"' for word in words)


def _nearest(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word, known, 1)
    return f'did you mean "{near[0]}"?' if near else f"known are {', '.join(known)}"


def _example(kind: Any) -> str:
    choices = _choices(kind)
    if choices:
        return _or(choices)
    return _EXAMPLES.get(get_origin(kind) or kind, '"…"')


def _plain(why: str, value: Any) -> str:
    wrong = re.fullmatch(r"Expected `([\w| ]+)`, got `(\w+)`", why)
    if wrong:
        belongs = " or ".join(_NAMES.get(name, name) for name in wrong[1].split(" | ") if name != "null")
        return f"is {_NAMES.get(wrong[2], f'a {wrong[2]}')} where {belongs} belongs"
    if why == "Invalid decimal string":
        return f'"{value}" is not a number'
    limit = re.fullmatch(r"Expected `\w+` ([<>]=?) (.*)", why)
    if limit:
        words = {"<=": "at most", ">=": "at least", "<": "below", ">": "above"}
        return f"{value} is out of range: it must be {words[limit[1]]} {limit[2]}"
    return f"is not right ({why})"

"""Whether JSON has exactly the shape it promises, and whether the function that makes it promises just that."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

#: A moment: ISO 8601 in UTC.
MOMENT = datetime

#: What `triage --json` prints.
TRIAGE = {
    "symptoms": [str],
    "layout": str,
    "answers": [{"check": str, "outcome": str}],
    "causes": [
        {
            "id": str,
            "name": str,
            "probability": float,
            "for": [{"text": str, "weight": float}],
            "against": [{"text": str, "weight": float}],
        }
    ],
    "two_at_once": float,
    "none_of_these": float,
    "learned": ({"jobs": int, "elsewhere": int}, None),
    "says": [
        {
            "cause": str,
            "finding": (str, None),
            "outcome": (str, None),
            "book": float,
            "seen": int,
            "of": int,
            "now": float,
        }
    ],
    "contradictions": [str],
    "advice": {"repair_now": bool, "repair": (str, None), "minutes_to_fix": float, "why": str},
    "next": [
        {
            "check": str,
            "name": str,
            "minutes": float,
            "saves_minutes": float,
            "where": str,
            "covers": [str],
            "cautions": [str],
            "outcomes": {str: str},
        }
    ],
}


def check(data: Any, shape: Any, where: str = "$") -> None:
    """`data` has exactly the fields and types of `shape`: a type, a tuple of choices (None: null), a list of one
    shape, a dict by field, or {str: shape} for a table by any key."""
    if isinstance(shape, tuple):
        if data is None:
            assert None in shape, f"{where} is null"
            return
        (shape,) = (choice for choice in shape if choice is not None)
    if isinstance(shape, dict) and set(shape) == {str}:
        assert isinstance(data, dict), where
        for key, value in data.items():
            check(value, shape[str], f"{where}.{key}")
    elif isinstance(shape, dict):
        assert isinstance(data, dict) and set(data) == set(shape), f"{where}: {sorted(data)}"
        for key, value in data.items():
            check(value, shape[key], f"{where}.{key}")
    elif isinstance(shape, list):
        assert isinstance(data, list), where
        for number, one in enumerate(data):
            check(one, shape[0], f"{where}[{number}]")
    elif shape is MOMENT:
        assert isinstance(data, str) and data.endswith("Z"), f"{where}: {data!r}"
        datetime.fromisoformat(data)
    elif shape is float:
        assert isinstance(data, int | float) and not isinstance(data, bool), f"{where}: {data!r}"
    else:
        assert type(data) is shape, f"{where}: {data!r}"


def documented(shape: Any, maker: Callable[..., Any]) -> None:
    """The docstring of the function that makes the data names every field."""
    said = inspect.getdoc(maker) or ""
    missing = [field for field in _fields(shape) if f"`{field}`" not in said]
    assert not missing, f"{maker.__name__} says nothing of {missing}"


def _fields(shape: Any) -> Iterator[str]:
    if isinstance(shape, list | tuple):
        for one in shape:
            yield from _fields(one)
    elif isinstance(shape, dict):
        for key, value in shape.items():
            if isinstance(key, str):
                yield key
            yield from _fields(value)

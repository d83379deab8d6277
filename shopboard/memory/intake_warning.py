"""What to say when a machine of a model that fails early comes in: the figures, what to look at, and its covers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from .early import Early, Record, Word
from .figures import count


class Look(msgspec.Struct, frozen=True):
    """A check worth making: its id and name, its minutes without covers, and what must come off for it."""

    check: str
    name: str
    minutes: float = 0.0
    covers: tuple[str, ...] = ()


class IntakeWarning(msgspec.Struct, frozen=True):
    """A warning at intake: the word, the sentence, the figures behind it and what to look at."""

    word: Word
    said: str
    early: Early
    looks: tuple[Look, ...]
    look_said: str


def intake_warnings(shop: Record, model: str, looks: Mapping[str, Sequence[Look]]) -> tuple[IntakeWarning, ...]:
    """What to warn of when this model comes in, most certain first; nothing for a model that fails like others.

    `looks` are the checks of the trouble book that show a component's failure, the most telling first.
    """
    return tuple(warning_of(early, looks) for early in shop.flagged(model)) if model else ()


def warning_of(early: Early, looks: Mapping[str, Sequence[Look]]) -> IntakeWarning:
    """The warning for one component of one model."""
    checks = tuple(looks.get(early.component, ()))
    return IntakeWarning(early.word, early.said, early, checks, _look_words(checks))


def _look_words(looks: Sequence[Look]) -> str:
    if not looks:
        return "the trouble book names no check for it"
    first = looks[0]
    off = f"; covers: {', '.join(first.covers)}" if first.covers else ", no cover"
    rest = f"; {count(len(looks) - 1, 'more check', 'more checks')}" if len(looks) > 1 else ""
    return f"look at it: {first.name} ({first.minutes:.0f} min{off}){rest}"

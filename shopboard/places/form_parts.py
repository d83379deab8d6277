"""What every step's form is made of: a step form, narrowing options, sums of money."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from shopboard.records import Job, ShopState, Step

from .fields import Field, Option, Options, Values, read_money, reads, text_of

if TYPE_CHECKING:
    from .app import Board

#: A rule with its answers filled in, ready to commit.
Ready = Callable[[ShopState, datetime], Step]


@dataclass(frozen=True)
class StepForm:
    """`fields` are the questions (none: the step needs no more than its key), `ready` makes the rule from answers.
    Reading an answer may raise ValueError with the one line that says what would be right."""

    fields: Callable[[Board, Job], Sequence[Field]]
    ready: Callable[[Board, Job, Values], Ready]
    caution: str = ""


def choose(options: Sequence[Option]) -> Options:
    """Options that narrow as one types."""

    def narrowed(_values: Values, typed: str) -> Sequence[Option]:
        if any(typed in (option.key, option.label) for option in options):
            return sorted(options, key=lambda option: typed not in (option.key, option.label))
        wanted = typed.strip().lower()
        return [o for o in options if wanted in o.label.lower() or wanted in o.key.lower()] or options

    return narrowed


def words(*names: str) -> Options:
    """A choice between plain words."""
    return choose([Option(name, name) for name in names])


def money(board: Board, id: str, label: str, *, blank: bool = False, start: str = "") -> Field:
    """A question for a sum in the shop's currency."""
    decimals = board.state.settings.decimals
    check = reads(lambda typed: read_money(typed, label, decimals), blank=blank)
    return Field(
        id, f"{label} ({board.state.settings.currency})", hint="such as 180 or 89.50", check=check, start=start
    )


def sum_of(board: Board, values: Values, id: str, label: str) -> Decimal:
    """The sum answered; ValueError says what would be right."""
    return read_money(text_of(values, id), label, board.state.settings.decimals)

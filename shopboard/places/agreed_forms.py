"""Questions about what is agreed besides the sum: who pays, and whether the old parts are kept."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shopboard.records import Job, Payer
from shopboard.shop import terms

from .fields import Field, Option, Values, needed, text_of
from .form_parts import Ready, choose

if TYPE_CHECKING:
    from .app import Board


def payer_fields(_board: Board, job: Job) -> Sequence[Field]:
    """Who pays from now on."""
    options = choose([Option(payer.value, payer.value) for payer in Payer if payer is not job.payer])
    return (Field("payer", "who pays", "choice", options=options, check=needed("customer, warranty or shop")),)


def pays(board: Board, job: Job, values: Values) -> Ready:
    """Somebody else pays."""
    payer = Payer(text_of(values, "payer"))
    return lambda state, now: terms.pays(state, now, board.who, job.id, payer)


def old_parts(board: Board, job: Job, _values: Values) -> Ready:
    """The old parts are kept, or need not be after all."""
    return lambda state, now: terms.keep_old_parts(state, now, board.who, job.id, not job.keep_old_parts)

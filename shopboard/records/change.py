"""A change: one committed step of the shop's journal."""

from __future__ import annotations

import msgspec

from .base import Moment, Record, Table


class Put(msgspec.Struct, frozen=True, array_like=True, tag="put"):
    """The whole record `data` (as plain values) stands in `table` under `id` from now on."""

    table: Table
    id: int
    data: dict[str, object]


class Remove(msgspec.Struct, frozen=True, array_like=True, tag="remove"):
    """Nothing stands in `table` under `id` any more (only undo of a new record does this)."""

    table: Table
    id: int


Op = Put | Remove


class Change(Record, kw_only=True, rename={"seq": "s", "format": "v"}):
    """One committed step: number, when (UTC), by whom, the sentence why, and its operations, all or none.

    `format` is the FORMAT it was written with; its default stays 1, so that a line without it is known for an old one.
    """

    seq: int
    at: Moment
    by: str
    why: str
    ops: tuple[Op, ...]
    subject: int | None = None
    undoes: int | None = None
    format: int = 1

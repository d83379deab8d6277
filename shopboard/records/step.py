"""What a rule answers: a step to commit, or a refusal."""

from __future__ import annotations

import msgspec

from .base import Record, Table


class Step(msgspec.Struct, frozen=True):
    """One step a rule allows, all of it or none: `why` is the sentence the journal shows.

    `puts` are whole records to keep, `removes` pairs of table and id, `subject` the job the step is about, `by` whom
    a rule allowed it to ("" where nobody was asked).
    """

    why: str
    puts: tuple[Record, ...] = ()
    removes: tuple[tuple[Table, int], ...] = ()
    subject: int | None = None
    by: str = ""


class Refused(Exception):
    """A step the rules do not allow: `why` it may not happen, and what `would_do` instead."""

    def __init__(self, why: str, would_do: str = "") -> None:
        super().__init__(f"{why}: {would_do}" if would_do else why)
        self.why, self.would_do = why, would_do

"""Closed jobs whose index is read only when somebody asks for one: it is most of what opening reads, and the first
screen needs none of it."""

from __future__ import annotations

from typing import Any

from shopboard.records import ClosedJob

from .replay import Unfiled, month_of


class ClosedLater(dict[int, ClosedJob]):
    """Stands in for the closed jobs while the journal's end acts on the state: holds those closed there, and which
    others it took out (`gone`). `index_seq` is the number the index must have at least."""

    def __init__(self, index_seq: int) -> None:
        super().__init__()
        self.index_seq = index_seq
        self.gone: set[int] = set()

    @property
    def acted(self) -> bool:
        """Whether the journal's end did anything to closed jobs, or may have."""
        return bool(self or self.gone)

    def pop(self, id: int, *default: Any) -> Any:
        """Take a job out, whether it is known here or will come with the index."""
        if id not in self:
            self.gone.add(id)
        return super().pop(id, *default)

    def act_on(self, closed: dict[int, ClosedJob], unfiled: Unfiled) -> None:
        """Do to the closed jobs of the index what the journal's end did, as if they had been there then."""
        for id in self.gone:
            was = closed.pop(id, None)
            if was is not None and (id not in self or month_of(self[id]) != month_of(was)):
                unfiled.stale.setdefault(month_of(was), set()).add(id)
        closed.update(self)

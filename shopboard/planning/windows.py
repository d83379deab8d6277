"""When a step can be done: free stretches of a person and a bay, with every calendar as one Python int.

Bit k of a mask stands for slot k of the shop's axis. A stretch of d free slots begins where none of d successive bits
is set; shifting and joining a mask log2(d) times marks every slot at which none begins, and the lowest clear bit of the
result is the earliest start.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache


def ones(first: int, end: int) -> int:
    """The mask of the slots from `first` up to `end`, not included.

    >>> bin(ones(1, 4))
    '0b1110'
    """
    return ((1 << (end - first)) - 1) << first if end > first else 0


def blocked(busy: int, slots: int) -> int:
    """The slots at which no stretch of `slots` free slots begins.

    >>> bin(blocked(0b1000100, 2))
    '0b1100110'
    """
    for step in shifts(slots):
        busy |= busy >> step
    return busy


@cache
def shifts(slots: int) -> tuple[int, ...]:
    """By how much to shift a mask and join it, one after the other, to mark where no stretch of `slots` begins.

    >>> shifts(7)
    (1, 2, 3)
    """
    steps, have = [], 1
    while have < slots:
        steps.append(min(have, slots - have))
        have += steps[-1]
    return tuple(steps)


def lowest_clear(mask: int, first: int) -> int:
    """The lowest slot from `first` on that is not in the mask.

    >>> lowest_clear(0b10111, 1)
    3
    """
    rest = mask >> first
    return first + ((rest + 1) & ~rest).bit_length() - 1


class Hours:
    """The slots in which work can go on for one person in one bay, with the way back from work done to slots.

    `away` is the mask of the other slots before `end`; 0 for somebody who is always there.
    """

    __slots__ = ("_rank", "_there", "away", "end")

    def __init__(self, there: int, end: int) -> None:
        self.end = end
        self.away = ones(0, end) & ~there
        self._there = [slot for slot in range(end) if there >> slot & 1] if self.away else []
        self._rank: list[int] = []
        count = 0
        for slot in range(end if self.away else 0):
            self._rank.append(count)
            count += there >> slot & 1

    def end_of(self, start: int, slots: int) -> int:
        """The slot after the one in which `slots` of work, begun at `start`, are done; -1 when the axis ends first."""
        if not self.away:
            return start + slots if start + slots <= self.end else -1
        if start >= self.end:
            return -1
        last = self._rank[start] + slots - 1
        return self._there[last] + 1 if last < len(self._there) else -1

    def first(self, slot: int) -> int:
        """The first slot at or after `slot` in which work can go on; `end` when there is none."""
        return min(self.end, lowest_clear(self.away, slot)) if self.away else min(slot, self.end)

    def earliest(self, taken: int, busy: Sequence[int], ready: int, slots: int) -> tuple[int, int]:
        """Start and end of the earliest work of `slots` from `ready` on; (-1, -1) when the axis ends first.

        `taken` marks where no free stretch begins (`blocked`, of person and bay joined), `busy` holds their masks:
        where somebody is away in between, the work takes longer, and all of that time must be free as well.
        """
        taken |= self.away
        while True:
            start = lowest_clear(taken, ready)
            end = self.end_of(start, slots)
            if end < 0:
                return -1, -1
            if end - start == slots:
                return start, end
            between = 0
            for mask in busy:
                between |= mask >> start
            between &= (1 << (end - start)) - 1
            if not between:
                return start, end
            ready = start + between.bit_length()

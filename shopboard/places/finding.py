"""Find anything: tags, customers, phones, serials, models, parts, words of complaints; open jobs before closed."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate
from typing import NamedTuple

from shopboard.records import ClosedJob, Customer, Job, Machine, ShopState, Table, tag, tag_number

#: So many are listed at most; so many rows of closed jobs are made ready in one go, which a key hardly notices.
_MOST, SLICE = 200, 300
#: How alike (0 … 100) a known word must be to stand in for one that nothing has, and how many of them may.
_ALIKE, _LIKE_IT = 72.0, 3


class Hit(NamedTuple):
    """A job or a customer found, and whether the job is still open."""

    table: Table
    id: int
    open: bool = False

    @property
    def key(self) -> str:
        """The hit as text, such as "jobs:412"; `hit_of` reads it again."""
        return f"{self.table.value}:{self.id}"


class Found(NamedTuple):
    """What was found; `instead` names the known words looked for in place of those that nothing has."""

    hits: tuple[Hit, ...]
    instead: str = ""


def hit_of(key: str) -> Hit:
    """The hit that `Hit.key` made the text of."""
    table, _, id = key.partition(":")
    return Hit(Table(table), int(id))


class _Rows:
    """Rows of small letters in one text, so that a word is looked for in all of them at once."""

    def __init__(self, ids: Sequence[int], texts: Sequence[str]) -> None:
        self.ids = ids
        self.text = "\n".join(texts) + "\n"
        self.starts = [0, *accumulate(len(text) + 1 for text in texts)]

    def with_all(self, words: Sequence[str]) -> Iterator[int]:
        """The ids of the rows that hold every word, in order."""
        rare, *others = sorted(words, key=len, reverse=True)
        at = self.text.find(rare)
        while at >= 0:
            row = bisect_right(self.starts, at) - 1
            start, end = self.starts[row], self.starts[row + 1]
            if all(self.text.find(word, start, end) >= 0 for word in others):
                yield self.ids[row]
            at = self.text.find(rare, end)


class Finder:
    """Looks through one shop. What closed jobs say is kept ready, as it hardly changes; `grow` does so bit by bit."""

    def __init__(self, state: ShopState) -> None:
        self._state = state
        self._kept: dict[int, tuple[ClosedJob, Customer | None, Machine | None, str]] = {}
        self._to_grow: list[int] = []
        self._seq = -1
        self._open = self._closed = self._people = _Rows((), ())
        self._told: tuple[list[ClosedJob], list[tuple[str, str, str]], list[tuple[str, str]]] = ([], [], [])
        self._vocabulary: set[str] = set()

    def grow(self, most: int = SLICE) -> bool:
        """Make up to `most` more closed jobs ready; says whether all are."""
        closed = self._state.closed
        if not self._to_grow:
            self._to_grow = [id for id in closed if id not in self._kept]
        now, self._to_grow = self._to_grow[-most:], self._to_grow[:-most]
        for id in now:
            if id in closed:
                self._row(closed[id])
        return not self._to_grow

    def find(self, typed: str) -> Found:
        """Jobs and customers in which every word typed occurs: the job whose tag it is before all, then open ones,
        customers without an open job, closed ones, each the newest first; all open jobs when nothing is typed. Where
        nothing has them all, the known words most like those that nothing has are looked for instead.

        >>> from shopboard.records import Settings
        >>> Finder(ShopState(settings=Settings(name="s"), models={})).find("pump")
        Found(hits=(), instead='')
        """
        self._renew()
        words = [_plain(word) for word in typed.lower().split()]
        if not words:
            return Found(tuple(Hit(Table.JOBS, id, True) for id in self._open.ids))
        wanted = tag_number(typed)
        hits = self._with_all(words, wanted)
        if hits:
            return Found(hits)
        likes = [self._like(word) for word in words]
        if all(likes):
            spelled = [tuple(like[n % len(like)] for like in likes) for n in range(max(map(len, likes)))]
            other = {hit: None for words in spelled for hit in self._with_all(words, None)}
            if other:
                return Found(tuple(other)[:_MOST], ", ".join(dict.fromkeys(" ".join(words) for words in spelled)))
        return Found(())

    def _with_all(self, words: Sequence[str], wanted: int | None) -> tuple[Hit, ...]:
        hits = [Hit(Table.JOBS, id, True) for id in self._open.with_all(words)]
        hits += [Hit(Table.CUSTOMERS, id) for id in self._people.with_all(words)]
        for id in self._closed.with_all(words):
            if len(hits) >= _MOST:
                break
            hits.append(Hit(Table.JOBS, id))
        if wanted is not None and (wanted in self._state.jobs or wanted in self._state.closed):
            tagged = Hit(Table.JOBS, wanted, wanted in self._state.jobs)
            hits = [tagged, *(hit for hit in hits if hit != tagged)]
        return tuple(hits[:_MOST])

    def _like(self, word: str) -> tuple[str, ...]:
        """The word itself where anything has it, else the known words most like it."""
        if any(word in rows.text for rows in (self._open, self._people, self._closed)):
            return (word,)
        from rapidfuzz import fuzz, process  # only once nothing has what was typed

        known = self._vocabulary
        return tuple(
            w for w, _, _ in process.extract(word, known, scorer=fuzz.ratio, score_cutoff=_ALIKE, limit=_LIKE_IT)
        )

    # -- what is looked through -----------------------------------------------------------------------------------

    def _renew(self) -> None:
        state = self._state
        if state.seq == self._seq:
            return
        jobs = [*reversed(state.jobs.values())]
        here = {job.customer for job in jobs}
        people = sorted((c for c in state.customers.values() if c.id not in here), key=lambda customer: customer.name)
        parts: dict[int, list[str]] = {}
        for part in state.parts.values():
            if part.job is not None:
                parts.setdefault(part.job, []).append(f"{part.number} {part.name}")
        self._open = _Rows([j.id for j in jobs], [self._text(job, parts.get(job.id, ())) for job in jobs])
        self._people = _Rows([c.id for c in people], [_person_text(c) for c in people])
        self._renew_closed()
        for rows in (self._open, self._people):
            self._vocabulary.update(_words(rows.text))
        self._seq = state.seq

    def _renew_closed(self) -> None:
        """Make the text of closed jobs anew, unless neither they nor their machines and customers changed."""
        state = self._state
        closed = [*state.closed.values()]
        people = [(c.name, c.phone, c.address) for c in state.customers.values()]
        machines = [(m.model, m.serial) for m in state.machines.values()]
        before, self._told = self._told, (closed, people, machines)
        new_ones_apart = (closed, people[: len(before[1])], machines[: len(before[2])])
        if new_ones_apart != before:
            newest = closed[::-1]
            self._closed = _Rows([c.id for c in newest], [self._row(c) for c in newest])

    def _row(self, closed: ClosedJob) -> str:
        customer = self._state.customers.get(closed.customer)
        machine = self._state.machines.get(closed.machine)
        kept = self._kept.get(closed.id)
        if kept is not None and kept[0] is closed and kept[1] is customer and kept[2] is machine:
            return kept[3]
        text = self._text(closed)
        self._kept[closed.id] = (closed, customer, machine, text)
        self._vocabulary.update(_words(text))
        return text

    def _text(self, job: Job | ClosedJob, parts: Iterable[str] = ()) -> str:
        customer, machine = self._state.customers.get(job.customer), self._state.machines.get(job.machine)
        model = self._state.models.get(machine.model) if machine else None
        whose = _person_text(customer) if customer else ""
        which = (
            f"{model.name if model else machine.model} {machine.serial} {_squeezed(machine.serial)}" if machine else ""
        )
        return _one_line(f"{tag(job.id)} {which} {whose} {job.complaint} {' '.join(parts)}")


def _person_text(customer: Customer) -> str:
    return _one_line(f"{customer.name} {customer.phone} {_squeezed(customer.phone)} {customer.address}")


def _one_line(text: str) -> str:
    return " ".join(text.lower().split())


def _squeezed(text: str) -> str:
    return "".join(char for char in text if char.isalnum())


def _plain(word: str) -> str:
    """A phone number or serial however it is set apart: its letters and digits alone; any other word as typed."""
    return _squeezed(word) if sum(char.isdigit() for char in word) >= 5 else word


def _words(text: str) -> Iterator[str]:
    """The words that may be misspelt: neither numbers nor serials."""
    return (word for piece in text.split() if len(word := piece.strip(".,;:!?\"“”()'’")) > 2 and word.isalpha())


def job_of_record(state: ShopState, table: Table, number: int) -> int | None:
    """The open job that a scanned machine, part line or customer belongs to, if there is exactly one to open."""
    if table is Table.PARTS:
        part = state.parts.get(number)
        return part.job if part else None
    of: dict[Table, list[Job]] = {
        Table.MACHINES: [job for job in state.jobs.values() if job.machine == number],
        Table.CUSTOMERS: [job for job in state.jobs.values() if job.customer == number],
    }
    jobs = of.get(table, [])
    return jobs[0].id if len(jobs) == 1 else None

"""Which models fail early: each model's failures of a component against the same component at the same ages elsewhere.

A cell is one component on one model. Its failures are tested exactly against the rest of the shop's record, age band
by age band, so that an older fleet or a harder-worn component is no reproach. Over all cells at once at most a tenth
of what is said may be chance (Benjamini & Hochberg). Two words: “watch”, it fails more often than elsewhere; “act”, it
fails more than MODELS_DIFFER times as often, which models of one kind do not differ by.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from .cells import BANDS, Cell
from .exact import benjamini_hochberg
from .figures import Figure, count, hours, rounded

# The rule's numbers. They were settled on simulated shops of seeds below 100 000 and are judged on others only.
#: Fewer failures than this are never called early, however rare they should be.
LEAST_FAILURES = 3
#: One machine that fails again and again is that machine, or its repair, and not its model.
LEAST_MACHINES = 2
#: Share of what is said that may be chance.
FALSE_RATE = 0.10
#: Models of one kind differ by up to this factor without anything being wrong.
MODELS_DIFFER = 1.5
#: With fewer failures expected than this, a model four times as bad would mostly not be seen.
ENOUGH_EXPECTED = 4.0

#: An upper end beyond this many times says only that the others hardly ever fail: it is left out of the words.
MOST_TIMES = 100.0

Word = Literal["act", "watch", "like others", "not enough"]


class Early(msgspec.Struct, frozen=True):
    """What the rule says of a cell: `chance` is that of so many failures if nothing were wrong, `machines` how many of
    the model were watched, `oldest` the greatest age of the component there [h]; all its failures came `before` an
    age [h]."""

    component: str
    model: str
    word: Word
    failures: int
    expected: float
    chance: float
    machines: int
    oldest: float
    times: Figure
    said: str
    before: float = 0.0


def judge(cells: Sequence[Cell]) -> list[Word]:
    """The word for each cell, all of a shop's cells judged together.

    "watch" and "act" need LEAST_FAILURES failures on LEAST_MACHINES machines; "not enough" means that less than
    ENOUGH_EXPECTED were to be expected, so that saying nothing means nothing.
    """
    return words([chances(cell) for cell in cells], [cell.expected for cell in cells])


def chances(cell: Cell) -> tuple[float, float]:
    """The chances of a cell's failures, had it failed at MODELS_DIFFER times the others' rate, and at their rate; 1
    where it cannot matter."""
    return _chance(cell, MODELS_DIFFER), _chance(cell, 1.0)


def words(chances: Sequence[tuple[float, float]], expected: Sequence[float]) -> list[Word]:
    """The word for each of a shop's cells by its `chances` and its `expected` failures."""
    act = benjamini_hochberg([of_act for of_act, _ in chances], FALSE_RATE)
    watch = benjamini_hochberg([of_watch for _, of_watch in chances], FALSE_RATE)
    return [_word(*each) for each in zip(expected, act, watch, strict=True)]


def _chance(cell: Cell, times: float) -> float:
    if cell.failures < LEAST_FAILURES or (cell.hit is not None and cell.hit < LEAST_MACHINES):
        return 1.0
    # So little beyond the mean has a chance above a tenth, which stands nowhere
    if cell.beyond(times) < 1.0:
        return 1.0
    return cell.chance(times)


def _word(expected: float, act: bool, watch: bool) -> Word:
    if act:
        return "act"
    if watch:
        return "watch"
    return "like others" if expected >= ENOUGH_EXPECTED else "not enough"


class Record(msgspec.Struct, frozen=True):
    """A shop's cells with their words, and how many machines of each model were watched. `names` are what components
    and models are called."""

    cells: tuple[Cell, ...]
    words: tuple[Word, ...]
    machines: Mapping[str, int]
    oldest: Mapping[tuple[str, str], float]
    names: Mapping[str, str] = {}

    def flagged(self, model: str = "", most: int | None = None) -> tuple[Early, ...]:
        """The cells (of a model; the first `most`) that call for something: "act" before "watch", the smallest chance
        first."""
        found = [
            (word, cell.chance(1.0), cell.component, cell)
            for cell, word in zip(self.cells, self.words, strict=True)
            if _calls(word) and model in ("", cell.model)
        ]
        found.sort(key=lambda row: (*row[:3], row[3].model))
        return tuple(self._tell(cell, word) for word, _, _, cell in found[:most])

    def many_flagged(self, model: str = "") -> int:
        """How many cells (of a model) call for something."""
        return sum(_calls(w) and model in ("", c.model) for c, w in zip(self.cells, self.words, strict=True))

    def of_model(self, model: str, most: int | None = None) -> tuple[Early, ...]:
        """The cells of a model (the first `most`), those that call for something first, then by failures."""
        cells = [(cell, word) for cell, word in zip(self.cells, self.words, strict=True) if cell.model == model]
        cells.sort(key=lambda pair: (not _calls(pair[1]), pair[1], -pair[0].failures, pair[0].component))
        return tuple(self._tell(cell, word) for cell, word in cells[:most])

    def cell(self, component: str, model: str) -> Cell | None:
        """The cell of a component on a model, if there is one."""
        return next((c for c in self.cells if c.component == component and c.model == model), None)

    def tell(self, component: str, model: str) -> Early | None:
        """What the rule says of one cell, if there is one."""
        pairs = zip(self.cells, self.words, strict=True)
        return next((self._tell(c, w) for c, w in pairs if c.component == component and c.model == model), None)

    def _tell(self, cell: Cell, word: Word) -> Early:
        low, high = cell.times()
        ratio = cell.failures / cell.expected if cell.expected else None
        times = Figure(
            value=ratio,
            low=low,
            high=None if high == float("inf") else high,
            unit="times",
            said=_times_words(low, high),
        )
        oldest = self.oldest.get((cell.component, cell.model), 0.0)
        said = _sentence(cell, word, times, oldest, self.names)
        chance = cell.chance(1.0) if cell.failures else 1.0
        many = self.machines.get(cell.model, 0)
        before = min(oldest, (*BANDS, math.inf)[cell.last_band])
        return Early(
            cell.component, cell.model, word, cell.failures, cell.expected, chance, many, oldest, times, said, before
        )


def _times_words(low: float, high: float) -> str:
    """The band in words.

    >>> _times_words(1.2, 9.0), _times_words(4.8, 805.0)
    ('1.2 to 9 times as often as on other models', 'at least 4.8 times as often as on other models')
    """
    if high <= MOST_TIMES:
        return f"{rounded(low)} to {rounded(high)} times as often as on other models"
    return f"at least {rounded(low)} times as often as on other models"


def _calls(word: Word) -> bool:
    return word in ("act", "watch")


def _sentence(cell: Cell, word: Word, times: Figure, oldest: float, names: Mapping[str, str]) -> str:
    what = names.get(cell.component, cell.component.replace("-", " "))
    bands = cell.last_band if _calls(word) else len(BANDS)
    before = hours(min(oldest, (*BANDS, math.inf)[bands]))
    on = f" on {count(cell.hit, 'machine')}" if cell.hit and _calls(word) else ""
    seen = f"{what}: {count(cell.failures, 'failure')}{on} before {before} where {_expected_words(cell, bands)}"
    band = times.said
    if word == "act":
        return f"{seen}; this can hardly be chance, nor what models usually differ by ({band})"
    if word == "watch":
        return f"{seen}; this can hardly be chance ({band})"
    if word == "not enough":
        return f"{seen}; not enough machines to tell"
    return f"{seen}; as on other models, as far as can be told ({band})"


def _expected_words(cell: Cell, bands: int) -> str:
    if not sum(cell.others[:bands]):
        return "no other model was watched at those ages"
    if not sum(cell.others_failed[:bands]):
        return f"other models, watched for {hours(sum(cell.others[:bands]))} at those ages, had none"
    wanted = rounded(cell.expected_by(bands))
    return f"{wanted} {'was' if wanted == '1' else 'were'} expected"

"""What timed runs say in words, and which further run would tell most.

Limits of the verdict are common practice, no source: a sound machine has at least 95 % of its stroke and leaks less
than one and a half times as much as new.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from .runs import Drive, Run
from .timed_runs import LEAST_CONTRAST, Fit, blurred, reference, sharpness

SOUND_STROKE = 0.95
SOUND_RATIO = 1.5
#: A part of the verdict is given only when it is this probable.
SURE = 0.95


class Verdict(NamedTuple):
    """`word` is wear, linkage, both, sound, "cannot tell", or one with "perhaps" the other too; `worn` and `lost` are
    True, False or None (cannot tell) for leakage and stroke; `text` is the sentence, with the run to add where there
    is one."""

    word: str
    worn: bool | None
    lost: bool | None
    text: str


class Candidate(NamedTuple):
    """A run that could be added, and the share of its present standard error that the wanted number would keep."""

    name: str
    run: Run
    keeps: float


def _worn(fit: Fit) -> float:
    """Probability that the leakage is above that of a sound unit."""
    assert fit.ratio is not None
    grid, chance, *_ = fit.chances
    return float(chance[grid > SOUND_RATIO].sum())


def _lost(fit: Fit, direction: int) -> float:
    """Probability that a direction's stroke is below that of a sound machine."""
    from scipy.special import ndtr

    _, chance, means, variances = fit.chances
    return float(ndtr((SOUND_STROKE - means[:, direction]) / np.sqrt(variances[:, direction])) @ chance)


def _decided(probability: float) -> bool | None:
    return True if probability >= SURE else False if probability <= 1 - SURE else None


def judge(fit: Fit) -> tuple[bool | None, bool | None]:
    """Worn and lost stroke: True, False, or None where the runs cannot tell.

    Worn needs a contrast of oil temperature and a sound unit's leakage to compare with; lost stroke is judged by the
    weaker direction.
    """
    worn = None
    if fit.ratio is not None and fit.contrast >= LEAST_CONTRAST:
        worn = _decided(_worn(fit))
    weakest = min(range(len(fit.stroke)), key=lambda i: list(fit.stroke.values())[i].value)
    return worn, _decided(_lost(fit, weakest))


_WORDS = {
    (True, True): "both",
    (True, False): "wear",
    (False, True): "linkage",
    (False, False): "sound",
    (True, None): "wear, perhaps linkage too",
    (None, True): "linkage, perhaps wear too",
}


def verdict(drive: Drive, runs: tuple[Run, ...], fit: Fit) -> Verdict:
    """The runs in words. Nothing is claimed that is less than 95 % sure; then the run to add is named."""
    worn, lost = judge(fit)
    word = _WORDS.get((worn, lost), "cannot tell")
    parts = [_leak_words(fit, worn), _stroke_words(fit, lost)]
    if worn is None or lost is None:
        parts.append(f"these runs cannot tell it all: add {best_run(drive, runs, fit, worn is None).name}")
    return Verdict(word, worn, lost, "; ".join(p for p in parts if p))


def _leak_words(fit: Fit, worn: bool | None) -> str:
    if fit.ratio is None:
        return "leakage has nothing to be compared with"
    low, high = max(0.0, fit.ratio.low), max(0.0, fit.ratio.high)
    size = f"leaks {max(0.0, fit.ratio.value):.1f} × new ({low:.1f}–{high:.1f})"
    if worn is None:
        why = " (a wear verdict needs hot and cold oil)" if fit.contrast < LEAST_CONTRAST else ""
        return f"{size}: wear cannot be told{why}"
    return f"{size}: {'wear' if worn else 'no wear'}"


def _stroke_words(fit: Fit, lost: bool | None) -> str:
    name, weakest = min(fit.stroke.items(), key=lambda item: item[1].value)
    where = f" {name}" if len(fit.stroke) > 1 else ""
    size = f"{100 * weakest.value:.0f} % of full stroke{where} ({100 * weakest.low:.0f}–{100 * weakest.high:.0f})"
    if lost is None:
        return f"{size}: linkage cannot be told"
    return f"{size}: {'linkage' if lost else 'linkage is right'}"


def candidates(runs: tuple[Run, ...], drive: Drive, stroke: float) -> tuple[tuple[str, Run], ...]:
    """Runs one could add, made from the first run: hot or cold oil, on the flat or on the steepest grade run so far
    (12 % if none was steep), timed as a drive of this stroke would be."""
    first = runs[0]._replace(time=runs[0].distance / (stroke * drive.ideal(runs[0].speed)))
    steep = max((r.grade for r in runs), default=0.0)
    steep = steep if steep > math.atan(0.05) else math.atan(0.12)
    coldest, hottest = min(r.celsius for r in runs), max(r.celsius for r in runs)
    warmths = (("cold oil", min(coldest, 35.0)), ("hot oil", max(hottest, 80.0)))
    grades = (("on the flat", 0.0), ("on the grade", steep))
    return tuple(
        (f"a run with {warm} {where}", first._replace(celsius=celsius, grade=grade, pressure=None))
        for warm, celsius in warmths
        for where, grade in grades
    )


def best_run(drive: Drive, runs: tuple[Run, ...], fit: Fit, for_leakage: bool = True) -> Candidate:
    """The run that would narrow the leakage (or else the stroke) most, were the present estimates true."""
    directions = list(fit.stroke)
    stroke, leakage = next(iter(fit.stroke.values())).value, fit.leakage.value / reference(drive)

    def error(of: tuple[Run, ...]) -> float:
        return sharpness(blurred(drive, of, directions), stroke, leakage, for_leakage)

    now = error(runs)
    found = [Candidate(name, run, error((*runs, run)) / now) for name, run in candidates(runs, drive, stroke)]
    return min(found, key=lambda c: c.keeps)

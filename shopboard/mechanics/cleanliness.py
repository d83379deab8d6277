"""Particle counts of an oil sample and their ISO 4406 code, and back.

Source: ISO 4406:2017 as reprinted; the standard itself was not seen, codes 0 to 5 and 25 to 28 are from memory.
"""

from __future__ import annotations

from bisect import bisect_left

#: Greatest count per mL of each code, 0 to 28; a count on the limit belongs to the lower code.
LIMITS = (
    0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5, 10, 20, 40, 80, 160, 320, 640, 1300, 2500, 5e3, 1e4, 2e4,
    4e4, 8e4, 1.6e5, 3.2e5, 6.4e5, 1.3e6, 2.5e6,
)  # fmt: skip


def number(per_ml: float) -> int:
    """The code number of `per_ml` particles per mL; more than the limit before, up to and including its own.

    Above the last limit the answer is 29, meaning "more than 28". Raises ValueError below zero.

    >>> number(1300), number(1300.1)
    (17, 18)
    """
    if not per_ml >= 0:
        raise ValueError("a particle count must not be negative")
    return bisect_left(LIMITS, float(f"{per_ml:.12g}"))


def code(counts: tuple[float, float, float], millilitres: float) -> str:
    """The three-figure code of cumulative counts at ≥ 4, 6 and 14 µm(c) in a sample of `millilitres`.

    Raises ValueError when a coarser size counts more than a finer one.

    >>> code((300_000, 50_000, 700), 100)
    '19/16/10'
    """
    if not counts[0] >= counts[1] >= counts[2]:
        raise ValueError("each count takes in the coarser ones, so the three must not rise: 4 µm / 6 µm / 14 µm")
    return "/".join(">28" if n > 28 else str(n) for n in (number(c / millilitres) for c in counts))


def counts(number: int) -> tuple[float, float]:
    """Particles per mL of a code number 0 … 28: more than the first, up to and including the second.

    >>> counts(17)
    (640, 1300)
    """
    if not 0 <= number < len(LIMITS):
        raise ValueError(f"code numbers run from 0 to {len(LIMITS) - 1}")
    return (LIMITS[number - 1] if number else 0.0), LIMITS[number]

"""Random trouble books, drawn from a seeded generator: for comparisons with independent computations and for speed."""

from __future__ import annotations

import numpy as np

from shopboard.trouble import Book, load_book
from shopboard.trouble.scales import FREQUENCY

_OTHERWISE = ["seldom", "rarely", "almost never"]
_SHOWN = ["almost always", "usually", "often", "half the time", "sometimes"]
_WEIGHTS = ["everyday", "common", "now and then", "uncommon", "rare"]


def random_texts(
    rng: np.random.Generator,
    *,
    causes: int = 6,
    checks: int = 5,
    symptoms: int = 2,
    covers: int = 3,
    outcomes: int = 3,
    errors: bool = False,
) -> dict[str, str]:
    """The TOML text of a random book that loads without a mistake."""
    lines: list[str] = []
    for s in range(symptoms):
        lines.append(f'[symptom.s{s}]\nname = "symptom {s}"\notherwise = "{rng.choice(_OTHERWISE)}"')
    abnormal = {c: int(rng.integers(1, outcomes)) for c in range(checks)}
    for c in range(checks):
        lines += _check(rng, c, abnormal[c], covers, errors)
    shown = _shown(rng, causes, abnormal)
    for k in range(causes):
        lines += _cause(rng, k, symptoms, causes, shown[k])
    for k in range(causes):
        minutes = int(rng.choice([5, 10, 20, 40, 60, 90, 150, 240]))
        lines.append(f'[correction.r{k}]\nname = "repair {k}"\nminutes = {minutes}\n{_needed(rng, covers)}')
    for v in range(covers):
        under = f'under = ["v{v - 1}"]' if v and rng.random() < 0.4 else ""
        lines.append(
            f'[cover.v{v}]\nname = "cover {v}"\noff = {rng.integers(2, 20)}\non = {rng.integers(2, 20)}\n{under}'
        )
    return {"random.toml": "\n".join(lines)}


def random_book(rng: np.random.Generator, **sizes: int | bool) -> Book:
    """A random book; the sizes are those of `random_texts`."""
    return load_book(random_texts(rng, **sizes))  # type: ignore[arg-type]


def _needed(rng: np.random.Generator, covers: int) -> str:
    if not covers or rng.random() < 0.4:
        return ""
    return f'covers = ["v{rng.integers(covers)}"]'


def _check(rng: np.random.Generator, c: int, abnormal: int, covers: int, errors: bool) -> list[str]:
    where = rng.choice(["counter", "yard", "bay", "move"])
    error = f'shared_error = "e{rng.integers(2)}"' if errors and rng.random() < 0.6 else ""
    lines = [
        f'[check.c{c}]\nname = "check {c}"\nhow = "look"\nwhere = "{where}"',
        f"minutes = {rng.choice([1, 3, 5, 10, 20, 30])}\n{_needed(rng, covers)}\n{error}\n[check.c{c}.outcomes]",
        f'o0 = {{ name = "c{c} normal", normal = true }}',
    ]
    return lines + [
        f'o{o} = {{ name = "c{c} outcome {o}", otherwise = "{rng.choice(_OTHERWISE)}" }}'
        for o in range(1, abnormal + 1)
    ]


def _shown(rng: np.random.Generator, causes: int, abnormal: dict[int, int]) -> list[dict[int, dict[int, str]]]:
    """What each cause shows; every outcome is shown by at least one cause, a cause touches about a fifth of them."""
    shown: list[dict[int, dict[int, str]]] = [{} for _ in range(causes)]
    for c, count in abnormal.items():
        for o in range(1, count + 1):
            some = max(1, int(rng.binomial(causes, 0.25)))
            for k in rng.choice(causes, size=some, replace=False):
                shown[int(k)].setdefault(c, {})[o] = str(rng.choice(_SHOWN))
    return shown


def _cause(rng: np.random.Generator, k: int, symptoms: int, causes: int, shown: dict[int, dict[int, str]]) -> list[str]:
    named = {s for s in range(symptoms) if k % symptoms == s or rng.random() < 0.2}
    shows = ", ".join(f's{s} = "{rng.choice(_SHOWN)}"' for s in sorted(named))
    lines = [
        f'[cause.k{k}]\nname = "cause {k}"\nweight = "{rng.choice(_WEIGHTS)}"\ncorrection = ["r{k}"]',
        f"shows = {{ {shows} }}",
    ]
    for c, told in sorted(shown.items()):
        inner = ", ".join(f'o{o} = "{word}"' for o, word in sorted(told.items()))
        lines.append(f"answers.c{c} = {{ {inner} }}")
    return lines


assert set(_OTHERWISE) | set(_SHOWN) <= set(FREQUENCY)

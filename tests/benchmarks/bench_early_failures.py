"""The early-failure rule on simulated shops of 240 cells, beside two simpler rules: prints the table that stands in
bench_early_failures.txt. Run by hand: `python tests/benchmarks/bench_early_failures.py [shops]`.

What is counted was fixed before these seeds were run. A shop is looked at every month, so a cell counts as flagged when
the rule says "act" at one or more of the twelve monthly looks of the fourth year, for false flags and for power alike;
two lines give besides what the last look alone says. Power is the share of flagged cells among those made so many
times as bad where so many failures are expected at the year's end. The other rules' thresholds give them as many false
flags as ours on the shops of seeds 0 to 699. Seeds here are from 3 000 000 on: no rule's numbers were settled on them.

Wanted: false flags at most 0.1 a year, power at 4 x where 4 are expected at least 0.35 and above both other rules'.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

from aids.early_rules import OVER_EXPECTED, POISSON, false_flags, ours, over_expected, poisson, power  # noqa: E402

RULES = {"ours (act)": ours, f"O/E >= {OVER_EXPECTED}": over_expected, f"Poisson <= {POISSON:g}": poisson}
FIRST, POWER_FIRST = 3_000_000, 3_500_000
#: The line the rule is judged by: so many times as bad, so many expected.
JUDGED = (4.0, (4.0, 4.6))


def main(shops: int = 400) -> None:
    """Print false flags a year and power; the lines the rule is not judged by rest on a quarter of the shops."""
    print(f"{shops} shops behind false flags and the lines marked *, {shops // 4} behind the others")
    print(f"{'':<44}" + "".join(f"{name:>18}" for name in RULES))
    for spread in (0.0, 0.3):
        _line(f"* false flags a year, spread {spread}", false_flags(RULES, range(FIRST, FIRST + shops), spread))
    for spread in (0.0, 0.3):
        for times in (2.0, 4.0, 8.0):
            for expected in ((0.9, 1.1), (1.8, 2.2), (4.0, 4.6), (7.5, 8.5)):
                _power(shops, spread, times, expected)


def _power(shops: int, spread: float, times: float, expected: tuple[float, float]) -> None:
    judged = (times, expected) == JUDGED
    what = f"power at {times:g} x, {expected[0]:g} to {expected[1]:g} expected, {spread}"
    many = shops if judged else shops // 4
    _line(f"{'*' if judged else ' '} {what}", power(RULES, POWER_FIRST, many, spread, times, expected))
    if judged:
        _line("*   the last look alone", power(RULES, POWER_FIRST, many, spread, times, expected, last=1))


def _line(what: str, found: dict[str, float]) -> None:
    print(f"{what:<44}" + "".join(f"{share:18.3f}" for share in found.values()), flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))

"""The early-failure rule on simulated shops of 240 cells, beside two simpler rules: prints the table that stands in
bench_early_failures.txt. Run by hand: `python tests/benchmarks/bench_early_failures.py [shops]`.

Twelve monthly looks in the fourth year; a flag at any of them counts. Seeds from 2 000 000 on, which neither the rule's
numbers nor the other rules' thresholds were settled on.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

from aids.early_rules import OVER_EXPECTED, POISSON, false_flags, ours, over_expected, poisson, power  # noqa: E402

RULES = {"ours (act)": ours, f"O/E >= {OVER_EXPECTED}": over_expected, f"Poisson <= {POISSON:g}": poisson}
FIRST = 2_000_000


def main(shops: int = 100) -> None:
    """Print false flags a year and power by how bad and how many expected."""
    print(f"{'':<36}" + "".join(f"{name:>18}" for name in RULES))
    for spread in (0.0, 0.3):
        found = false_flags(RULES, range(FIRST, FIRST + shops), spread)
        print(f"{f'false flags a year, spread {spread}':<36}" + "".join(f"{share:18.3f}" for share in found.values()))
    for spread in (0.0, 0.3):
        for times in (2.0, 4.0, 8.0):
            for expected in ((0.9, 1.1), (1.8, 2.2), (4.0, 4.6), (7.5, 8.5)):
                found = power(RULES, FIRST + 500_000, shops, spread, times, expected)
                what = f"power at {times:g} x, {expected[0]:g} to {expected[1]:g} expected, {spread}"
                print(f"{what:<36}" + "".join(f"{share:18.3f}" for share in found.values()), flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))

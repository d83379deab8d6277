"""Ten typical pairs of work done in one visit against two: run `python tests/benchmarks/labour_pairs.py`.

The result of the last run stands beside this file. Rate 112.00 an hour, covers and minutes of the shipped book.
"""

from __future__ import annotations

import sys
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from aids.shipped_book import shipped_book

from shopboard.estimate import Charges, MoneyRules, Work, graph_of, lay_out, make_estimate

PAIRS = (
    ("in-line", "renew-front-joint", "renew-rear-joint"),
    ("in-line", "renew-slip-spline", "phase-yokes"),
    ("in-line", "set-neutral", "renew-damper"),
    ("in-line", "rebuild-pump", "renew-input-seal"),
    ("in-line", "rebuild-pump", "renew-collar"),
    ("split", "rebuild-pump", "renew-belt"),
    ("split", "rebuild-wheel-motor", "free-brake"),
    ("split", "set-neutral", "renew-charge-relief"),
    ("transaxle", "exchange-hydrostat", "renew-belt"),
    ("gear", "repair-gearbox", "repair-clutch"),
)


def lines() -> list[str]:
    """The table, one line a pair: minutes and labour of two separate jobs, of one, and the difference."""
    book, rules, charges = shipped_book(), MoneyRules("CAD"), Charges(Decimal(112))
    found = [f"{'':10}{'pair':44}{'apart':>16}{'together':>16}{'saved':>16}"]
    for layout, *ids in PAIRS:
        graph = graph_of(book.covers, layout)
        works = [
            Work(id, id, book.corrections[id].minutes_on(layout), book.corrections[id].covers_on(layout)) for id in ids
        ]
        plans = [lay_out(graph, [work]) for work in works] + [lay_out(graph, works)]
        *apart, both = [(plan.billed, make_estimate(plan, [], charges, rules).labour) for plan in plans]
        two = (sum(minutes for minutes, _ in apart), sum(amount for _, amount in apart))
        saved = (two[0] - both[0], two[1] - both[1])
        cells = "".join(f"{minutes:6.0f}{amount:10.2f}" for minutes, amount in (two, both, saved))
        found.append(f"{layout:10}{' + '.join(ids):44}{cells}")
    return found


if __name__ == "__main__":
    print("\n".join(lines()))

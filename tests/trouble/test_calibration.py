"""What is said to be probable comes true that often, on machines drawn from the book. The full tables are in
tests/benchmarks; here a small seeded sample with a tolerance of four standard errors."""

from __future__ import annotations

import numpy as np
from aids.shipped_book import shipped_book
from aids.simulate import answers, draw

from shopboard.trouble import Evidence, rank
from shopboard.trouble.network import network


def test_stated_probabilities_come_true() -> None:
    rng = np.random.default_rng(77)
    net = network(shipped_book(), "in-line")
    stated: list[float] = []
    true: list[bool] = []
    two = 0
    for _ in range(400):
        machine = draw(net, rng, asked=1)
        made = answers(net, machine, rng.choice(list(net.checks), size=6, replace=False), rng)
        ranking = rank(shipped_book(), "in-line", Evidence(machine.symptoms, machine.asked + made))
        two += len(machine.causes) == 2
        claims = {(c.id,): c.probability for c in ranking.causes} | {(): ranking.none_of_these}
        stated += [*claims.values(), ranking.two_at_once]
        true += [machine.causes == key for key in claims] + [len(machine.causes) == 2]
    p, came = np.array(stated), np.array(true)
    assert two >= 20
    for low, high in ((0.0, 0.02), (0.02, 0.1), (0.1, 0.3), (0.3, 0.6), (0.6, 1.0)):
        band = (p > low) & (p <= high)
        error = 4 * np.sqrt((p[band] * (1 - p[band])).sum()) / band.sum()
        assert abs(p[band].mean() - came[band].mean()) <= error, (low, high)

"""The arithmetic of learning against scipy and against counting by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from shopboard.trouble.counts import (
    best_of,
    best_size,
    bounded,
    findings_of,
    link_of,
    log_evidence,
    log_poisson_gamma,
    noisy,
    row_of,
    surprise,
    updated,
)

SHARES = st.floats(0.01, 0.95)


def test_evidence_of_two_outcomes_is_the_integral_over_the_beta_share() -> None:
    row, size, seen = {"yes": 0.3, "": 0.7}, 10.0, {"yes": 4, "": 3}

    def density(p: float) -> float:
        return float(stats.beta.pdf(p, size * 0.3, size * 0.7)) * p**4 * (1 - p) ** 3

    assert log_evidence(row, size, seen) == pytest.approx(math.log(integrate.quad(density, 0, 1)[0]), abs=1e-8)


@pytest.mark.parametrize(("size", "expected", "seen"), [(4.0, 2.0, 0), (4.0, 2.0, 9), (1.0, 0.3, 2), (16.0, 30.0, 21)])
def test_evidence_of_a_count_is_the_negative_binomial(size: float, expected: float, seen: int) -> None:
    reference = stats.nbinom.logpmf(seen, size, size / (size + expected))
    assert log_poisson_gamma(size, expected, seen) == pytest.approx(reference, abs=1e-10)


@given(st.dictionaries(st.sampled_from("abc"), SHARES, min_size=1))
def test_findings_and_outcomes_are_two_ways_to_say_one_thing(findings: dict[str, float]) -> None:
    row = row_of(findings)
    assert sum(row.values()) == pytest.approx(1)
    assert findings_of(row) == pytest.approx(findings)
    for id in findings:
        yes_alone = findings[id] * math.prod(1 - p for other, p in findings.items() if other != id)
        assert row[id] / row[""] == pytest.approx(yes_alone / math.prod(1 - p for p in findings.values()))


@given(SHARES, st.floats(0.01, 0.9))
def test_a_link_comes_back_from_the_chance_it_makes(link: float, leak: float) -> None:
    assert link_of(noisy(link, leak), leak) == pytest.approx(link)
    assert link_of(leak / 2, leak) == 0


def test_counts_pull_a_share_by_their_number() -> None:
    assert updated({"hot": 0.8, "": 0.2}, 10, {"hot": 0, "": 3})["hot"] == pytest.approx(8 / 13)
    assert updated({"hot": 0.8, "": 0.2}, 10, {"hot": 0, "": 300})["hot"] == pytest.approx(8 / 310)
    assert bounded(0) > 0 and bounded(1) < 1


def test_the_size_is_found_from_many_shops_and_left_alone_with_few() -> None:
    rng = np.random.default_rng(4)
    row, sizes = {"yes": 0.4, "": 0.6}, (40.0, 5.0, 400.0)

    def shops(true_size: float, count: int) -> list[tuple[dict[str, float], dict[str, int]]]:
        made = []
        for _ in range(count):
            yes = int(rng.binomial(60, rng.beta(true_size * 0.4, true_size * 0.6)))
            made.append((row, {"yes": yes, "": 60 - yes}))
        return made

    assert best_size(shops(5.0, 60), sizes) == 5.0
    assert best_size(shops(400.0, 60), sizes) == 400.0
    assert best_size([(row, {"yes": 1, "": 1})], sizes) == 40.0
    assert best_of((1.0, 2.0), lambda size: size, least_gain=2.0) == 1.0


def test_surprise_is_the_log_likelihood_ratio() -> None:
    row, seen = {"yes": 0.1, "": 0.9}, {"yes": 8, "": 2}
    expected = stats.binom.logpmf(8, 10, 0.8) - stats.binom.logpmf(8, 10, 0.1)
    assert surprise(row, seen) == pytest.approx(expected)
    assert surprise(row, {"yes": 1, "": 9}) == pytest.approx(0)

"""How words held: shares, middles, comebacks within their days, and probabilities judged as they should be."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from aids.lives import DAY, day, job

from shopboard.memory import Judged, comebacks, first_right, judged, minutes_held, reliability
from shopboard.memory.outcomes import LEAST_JUDGED
from shopboard.records import Finding, Job, Likely, Operation, Spell, Stage


def _whole(**more: object) -> Job:
    given = {
        "id": 1,
        "customer": 1,
        "machine": 1,
        "arrived": DAY,
        "complaint": "",
        "since": DAY,
        "stage": Stage.COLLECTED,
        "likely": (Likely(cause="seal", name="seal", probability=0.7), Likely(cause="none", name="", probability=0.1)),
        "findings": (Finding(cause="seal", at=DAY, by="a", confirmed=True),),
        "operations": (Operation(id="renew", name="renew", minutes=60, covers=("wheel", "gone")),),
        "spent": (
            Spell(by="a", at=DAY, minutes=25, what="diagnosis"),
            Spell(by="a", at=DAY, minutes=90, what="repair"),
        ),
    }
    return Job(**(given | more))


COVERS = {"wheel": SimpleNamespace(off=6, on=9, under=())}


def test_a_job_is_judged_by_its_ranking_and_its_repair_minutes() -> None:
    found = judged(_whole(), COVERS)
    assert found == Judged(1, (("seal", 0.7), ("none", 0.1)), ("seal",), 75.0, 90.0)


@pytest.mark.parametrize(
    "more",
    [{"stage": Stage.DECLINED}, {"findings": ()}, {"likely": ()}, {"findings": (Finding(cause="s", at=DAY, by="a"),)}],
)
def test_a_job_without_a_confirmed_cause_or_a_ranking_is_not_judged(more: dict[str, object]) -> None:
    assert judged(_whole(**more), COVERS) is None


def test_first_guesses_are_counted() -> None:
    jobs = [Judged(i, (("a", 0.6), ("b", 0.2)), ("a",) if i < 8 else ("b",)) for i in range(10)]
    figure = first_right(jobs)
    assert figure.value == 0.8
    assert figure.said == "the first likely cause was the cause: 8 of 10, 80 % (54 % to 93 %)"
    assert first_right([]).value is None and "no job to tell from" in first_right([]).said


def test_the_middle_job_against_its_estimate() -> None:
    jobs = [Judged(i, (), (), 100.0, 100.0 + 10 * i) for i in range(9)]
    figure = minutes_held(jobs)
    # Of 9 the 2nd from either end: P(2 or more below and above the middle) = 1 - 2·10/512 = 96 %
    assert (figure.value, figure.low, figure.high) == pytest.approx((1.4, 1.1, 1.7))
    assert minutes_held(jobs[:3]).low is None and "too few for a band" in minutes_held(jobs[:3]).said
    assert minutes_held([Judged(1, (), (), 0.0, 50.0)]).value is None


def test_the_band_of_a_middle_holds() -> None:
    rng = np.random.default_rng(1)
    held = 0
    for _ in range(1000):
        figure = minutes_held([Judged(i, (), (), 1.0, float(s)) for i, s in enumerate(rng.lognormal(0, 1, 21))])
        assert figure.low is not None and figure.high is not None
        held += figure.low <= 1 <= figure.high
    assert held / 1000 >= 0.9 - 4 * math.sqrt(0.09 / 1000)


def test_comebacks_count_within_their_days_only() -> None:
    jobs = [
        job(1, 1, 0, "seal"),
        job(2, 1, 30, "seal", comeback_of=1),
        job(3, 2, 0, "belt"),
        job(4, 2, 300, "belt", comeback_of=3),
        job(5, 3, 0, "belt", stage=Stage.DECLINED),
        job(6, 4, 380, "seal"),
    ]
    total, by_cause = comebacks(jobs, day(400), 90)
    assert total.said.startswith("repairs that came back within 90 days: 1 of 4, 25 %")
    assert [(row.cause, row.share.value) for row in by_cause] == [("seal", 0.5), ("belt", 0.0)]
    assert comebacks([], day(400), 90)[0].value is None


def _jobs(seed: int, many: int, sharper: float = 1.0) -> list[Judged]:
    """Jobs whose true causes are drawn from three probabilities, told sharpened (above 1) or flattened (below)."""
    rng = np.random.default_rng(seed)
    made = []
    for id in range(many):
        true = rng.dirichlet((2.0, 1.0, 0.5))
        cause = "abc"[int(rng.choice(3, p=true))]
        told = true**sharper / (true**sharper).sum()
        made.append(Judged(id, tuple(zip("abc", map(float, told), strict=True)), (cause,)))
    return made


def test_true_probabilities_are_seldom_called_wrong() -> None:
    """At a twentieth, 20 or more of 200 come once in 700 samples."""
    wrong = sum((reliability(_jobs(seed, 150)).chance or 0) < 0.05 for seed in range(200))
    assert wrong < 20


def test_probabilities_too_sure_or_not_sure_enough_are_called_so() -> None:
    assert "were too sure" in reliability(_jobs(1, 400, sharper=3.0)).said
    assert "were not sure enough" in reliability(_jobs(1, 400, sharper=0.3)).said
    assert "held" in reliability(_jobs(1, 400)).said


def test_few_jobs_judge_no_probabilities() -> None:
    few = reliability(_jobs(1, LEAST_JUDGED - 1))
    assert few.chance is None and "99 jobs: too few to say" in few.said
    assert reliability(_jobs(1, LEAST_JUDGED)).chance is not None
    assert reliability([]).brier is None


def test_scores_and_groups_by_hand() -> None:
    jobs = [Judged(1, (("a", 0.8), ("b", 0.2)), ("a",)), Judged(2, (("a", 0.8), ("b", 0.2)), ("b",))]
    found = reliability(jobs)
    assert found.brier == pytest.approx((0.04 + 0.04 + 0.64 + 0.64) / 4)
    assert found.log_score == pytest.approx((math.log(0.8) + math.log(0.2)) / 2)
    assert [(group.said, group.true.value, group.many) for group in found.groups] == [
        (pytest.approx(0.2), 0.5, 2),
        (pytest.approx(0.8), 0.5, 2),
    ]

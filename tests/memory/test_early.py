"""The early-failure rule: exact chances by counting out, words, sentences, and how it fares on simulated shops."""

from __future__ import annotations

import itertools
import math

import msgspec
import numpy as np
import pytest
from aids.early_rules import EVALUATION, false_flags, ours, over_expected, poisson, power
from aids.lives import job, machine
from hypothesis import given, settings
from hypothesis import strategies as st

from shopboard.memory import Life, Look, histories, intake_warnings, record
from shopboard.memory.cells import BANDS, Cell, in_bands
from shopboard.memory.early import ENOUGH_EXPECTED, FALSE_RATE, LEAST_FAILURES, MODELS_DIFFER, judge
from shopboard.memory.exact import at_least, benjamini_hochberg, binomial, sum_of_binomials, times_band
from shopboard.records import ClosedJob, Machine

# -- exact chances --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("trials", "chance"), [(0, 0.3), (1, 0.0), (7, 1.0), (12, 0.37), (250, 0.02)])
def test_binomial_chances(trials: int, chance: float) -> None:
    expected = [math.comb(trials, k) * chance**k * (1 - chance) ** (trials - k) for k in range(trials + 1)]
    assert list(binomial(trials, chance)) == pytest.approx(expected, abs=1e-12)


@given(st.lists(st.tuples(st.integers(0, 3), st.floats(0, 1)), min_size=1, max_size=4))
@settings(deadline=None)
def test_a_sum_of_binomials_is_every_outcome_counted_out(bands: list[tuple[int, float]]) -> None:
    chances = [chance for many, chance in bands for _ in range(many)]
    expected = [0.0] * (len(chances) + 1)
    for outcome in itertools.product((0, 1), repeat=len(chances)):
        expected[sum(outcome)] += math.prod(p if hit else 1 - p for p, hit in zip(chances, outcome, strict=True))
    found = list(sum_of_binomials(*map(list, zip(*bands, strict=True))))
    assert found + [0.0] * (len(expected) - len(found)) == pytest.approx(expected, abs=1e-12)


def test_one_band_is_the_binomial_test() -> None:
    """Lady tasting: 7 or more of 8 at a share of a half, (8 + 1)/256."""
    assert at_least(7, [8], [100.0], [100.0], 1.0) == pytest.approx(9 / 256)
    assert at_least(0, [8], [100.0], [100.0], 1.0) == pytest.approx(1.0)
    assert at_least(3, [3], [100.0], [0.0], 1.0) == 1.0, "with no other machine at that age nothing is told"


@given(st.integers(0, 12), st.integers(0, 12), st.floats(0.05, 0.95))
@settings(deadline=None)
def test_the_band_of_times_is_that_of_an_exact_share(own: int, others: int, part: float) -> None:
    """In one band: Clopper and Pearson's band of the share, turned into a ratio of rates."""
    from scipy.stats import beta

    if own + others == 0:
        return
    low, high = times_band(own, [own + others], [part], [1 - part], 0.9)
    share_low = beta.ppf(0.05, own, others + 1) if own else 0.0
    share_high = beta.ppf(0.95, own + 1, others) if others else 1.0
    odds = (1 - part) / part
    assert low == pytest.approx(share_low / (1 - share_low) * odds, rel=1e-5)
    if others and share_high / (1 - share_high) * odds < 1e4:
        assert high == pytest.approx(share_high / (1 - share_high) * odds, rel=1e-5)


_AGES = st.tuples(
    st.integers(0, 300), st.floats(1.0, 1e5), st.one_of(st.just(0.0), st.floats(1.0, 1e6)), st.floats(0, 1)
)


@given(st.lists(_AGES, min_size=1, max_size=12))
@settings(deadline=None, max_examples=50)
def test_at_the_ends_of_a_band_over_ages_the_count_has_a_chance_of_a_twentieth(
    ages: list[tuple[int, float, float, float]],
) -> None:
    """Also of thousands of failures: the ends are held against chances folded together anew at each of them."""
    failed, own, others = ([row[n] for row in ages] for n in range(3))
    observed = sum(round(many * part) if b else many for many, _, b, part in ages)
    low, high = times_band(observed, failed, own, others, 0.9)  # type: ignore[arg-type]
    if 0 < low < 1e4:
        assert at_least(observed, failed, own, others, low) == pytest.approx(0.05, rel=1e-3)  # type: ignore[arg-type]
    if 0 < high < 1e4:
        more = at_least(observed + 1, failed, own, others, high)  # type: ignore[arg-type]
        assert 1 - more == pytest.approx(0.05, rel=1e-3)


def test_what_stands_of_many_tests() -> None:
    """Benjamini & Hochberg (1995), section 4.2: 15 chances, at a rate of 5 % the four smallest stand."""
    chances = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590,
        1.0,
    ]  # fmt: skip
    order = np.random.default_rng(3).permutation(15)
    standing = benjamini_hochberg([chances[i] for i in order], 0.05)
    assert sorted(chances[i] for i, stands in zip(order, standing, strict=True) if stands) == chances[:4]
    assert benjamini_hochberg([], 0.05) == []


# -- words ----------------------------------------------------------------------------------------------------------


def _cell(own_failed: int, others_failed: int, own: float, others: float, component: str = "c") -> Cell:
    rest = (0.0,) * (len(BANDS) - 1)
    none = (0,) * (len(BANDS) - 1)
    return Cell(component, "m", (own, *rest), (others, *rest), (own_failed, *none), (others_failed, *none))


def test_the_rule_s_numbers_are_what_they_were_when_they_were_judged() -> None:
    assert (LEAST_FAILURES, FALSE_RATE, MODELS_DIFFER, ENOUGH_EXPECTED) == (3, 0.10, 1.5, 4.0)


def test_two_failures_are_never_called_early() -> None:
    assert judge([_cell(2, 0, 1.0, 1e6)]) == ["not enough"]
    assert judge([_cell(3, 0, 1.0, 1e6)]) == ["act"]


def test_act_needs_more_than_models_differ_by() -> None:
    """200 failures where 150 were to be expected is no chance, yet within what models differ by."""
    assert judge([_cell(200, 1500, 100.0, 1000.0)]) == ["watch"]
    assert judge([_cell(400, 1500, 100.0, 1000.0)]) == ["act"]


def test_saying_nothing_means_something_only_with_enough_expected() -> None:
    quiet = [_cell(4, 40, 100.0, 1000.0), _cell(3, 39, 100.0, 1000.0), _cell(0, 3, 100.0, 1000.0)]
    assert judge(quiet) == ["like others", "not enough", "not enough"]


def test_an_older_fleet_is_no_reproach() -> None:
    """Both wear out alike, one is older: by hours alone it fails far more often, age band by age band it does not."""
    old = [0, 0, 0, 0, 0, 0, 30, *[0] * 5]
    own, others = [0.0] * 12, [0.0] * 12
    own[6], others[6], others[0] = 10_000.0, 1_000.0, 60_000.0
    cell = Cell("c", "m", tuple(own), tuple(others), tuple(old), (0, 0, 0, 0, 0, 0, 3, *[0] * 5))
    assert cell.expected == pytest.approx(30.0)
    assert judge([cell]) == ["like others"]


def test_one_machine_again_and_again_is_not_its_model() -> None:
    found = msgspec.structs.replace(_cell(9, 3, 100.0, 1000.0), hit=1)
    assert judge([found]) == ["not enough"]
    assert judge([msgspec.structs.replace(found, hit=2)]) == ["act"]


# -- from records to a sentence -------------------------------------------------------------------------------------


def _fleet(bad: str, *, seed: int = 0) -> tuple[list[Machine], list[ClosedJob]]:
    """Four models of ten machines, all run 600 h; seals of the bad model's fail young, one of each other model late."""
    machines, jobs = [], []
    for place in range(40):
        model = f"model-{'abcd'[place // 10]}"
        one = machine(place + 1, (0, 0), (100, 600))
        machines.append(msgspec.structs.replace(one, model=model))
        if model == bad and place % 10 < 6:
            jobs.append(job(place + 1, place + 1, 20 + place % 10, "seal", 120.0 + 6 * (place % 10)))
        elif place % 10 == 0:
            jobs.append(job(place + 1, place + 1, 90, "seal", 540.0))
    return machines, jobs


def test_a_model_that_fails_early_is_said_at_intake_with_what_to_look_at() -> None:
    shop = record(histories(*_fleet("model-b")), names={"seal": "wheel-motor seal"})
    looks = {"seal": [Look("face", "look behind the wheel", 6, ("wheel",)), Look("trace", "dust and run", 18)]}
    (warning,) = intake_warnings(shop, "model-b", looks)
    # 30 machines to 200 h, and the three renewed at 540 h for 60 h more
    assert warning.said.startswith(
        "wheel-motor seal: 6 failures on 6 machines before 200 h where other models, watched for 6,180 h at those "
        "ages, had none;"
    )
    assert "this can hardly be chance" in warning.said
    assert warning.look_said == "look at it: look behind the wheel (6 min; covers: wheel); 1 more check"
    assert [look.check for look in warning.looks] == ["face", "trace"]
    assert warning.early.machines == 10
    assert intake_warnings(shop, "model-a", looks) == ()
    assert intake_warnings(shop, "never-heard-of", looks) == ()


def test_where_no_other_model_was_watched_it_says_so() -> None:
    alone = [machine(1, (0, 0), (100, 600))]
    (early,) = record(histories(alone, [job(1, 1, 20, "seal", 120.0)])).of_model("m")
    assert early.said == (
        "seal: 1 failure before 600 h where no other model was watched at those ages; not enough machines to tell"
    )


def test_shuffling_the_failures_between_models_makes_the_warning_go() -> None:
    """Of 100 shuffles about a tenth may leave one by chance (4 standard errors: 22)."""
    machines, jobs = _fleet("model-b")
    assert record(histories(machines, jobs)).flagged()
    flagged = 0
    for seed in range(100):
        order = np.random.default_rng(seed).permutation(40)
        models = [machines[int(i)].model for i in order]
        shuffled = [msgspec.structs.replace(one, model=model) for one, model in zip(machines, models, strict=True)]
        flagged += bool(record(histories(shuffled, jobs)).flagged())
    assert flagged <= 22


def test_a_component_only_one_model_has_is_compared_with_nothing() -> None:
    machines, jobs = _fleet("model-b")
    alone = [each for each in machines if each.model == "model-b"]
    kept = [each for each in jobs if 11 <= each.machine <= 20]
    shop = record(histories(alone, kept))
    assert shop.flagged() == ()
    assert "any" not in shop.of_model("model-b")[0].said
    assert shop.words == ("like others",) or shop.words == ("not enough",)


def test_cells_count_what_the_lives_say() -> None:
    """Hours and failures by band, gathered model by model, against every life put in its bands one by one."""
    found = histories(*_fleet("model-b"))
    shop = record(found)
    for cell in shop.cells:
        lives = found.lives("seal", models={cell.model})
        assert cell.own == pytest.approx(tuple(in_bands([(life.start, life.end) for life in lives])))
        assert sum(cell.own) + sum(cell.others) == pytest.approx(40 * 600)
        assert cell.failures == sum(life.failed for life in lives)
        assert sum(cell.together) == len([life for life in found.lives("seal") if life.failed])


def test_a_failure_on_the_edge_of_a_band_belongs_to_the_hours_before_it() -> None:
    found = histories([machine(1, (0, 0), (90, 900))], [job(1, 1, 20, "seal", 100.0)])
    (cell,) = record(found).cells
    assert cell.own_failed[:3] == (0, 1, 0) and cell.last_band == 2
    assert Life(0, 100, True, 900) in found.lives("seal")


# -- on simulated shops ---------------------------------------------------------------------------------------------

RULES = {"ours": ours, "over expected": over_expected, "poisson": poisson}


def test_a_year_of_looks_at_sound_shops_raises_hardly_a_flag() -> None:
    """A small sample: at a rate of 0.1 a year, five or more flags in ten years come once in 260 samples."""
    assert false_flags({"ours": ours}, range(EVALUATION, EVALUATION + 5), 0.3)["ours"] * 5 <= 3
    assert false_flags({"ours": ours}, range(EVALUATION, EVALUATION + 5), 0.0)["ours"] * 5 <= 3


def test_a_cell_ten_times_as_bad_is_seen() -> None:
    assert power({"ours": ours}, EVALUATION, 8, 0.0, 10.0, (3.0, 5.0))["ours"] >= 0.75


@pytest.mark.long
@pytest.mark.parametrize("spread", [0.0, 0.3])
def test_false_flags_stay_within_a_tenth_a_year(spread: float) -> None:
    found = false_flags({"ours": ours}, range(EVALUATION, EVALUATION + 150), spread)
    print(f"false flags a year at a spread of {spread}: {found}")
    assert found["ours"] <= 0.1


@pytest.mark.long
@pytest.mark.parametrize("spread", [0.0, 0.3])
def test_four_times_as_bad_is_seen_more_often_than_by_simpler_rules(spread: float) -> None:
    """Where just enough is expected for silence to mean something; the other rules have as many false flags as ours."""
    found = power(RULES, EVALUATION + 500_000, 200, spread, 4.0, (ENOUGH_EXPECTED, 4.6))
    print(f"power at 4 x, 4 expected, a spread of {spread}: {found}")
    assert found["ours"] >= 0.35
    assert found["ours"] > max(found["over expected"], found["poisson"])

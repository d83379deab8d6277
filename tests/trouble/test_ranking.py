"""The ranking is exact, and behaves as a ranking must."""

from __future__ import annotations

import itertools
import math
from functools import cache

import numpy as np
import pytest
from aids.exact_policy import Shop
from aids.random_book import random_book
from aids.small_book import small_book
from hypothesis import given
from hypothesis import strategies as st

from shopboard.trouble import Book, Evidence, load_book, rank
from shopboard.trouble.network import posterior
from shopboard.trouble.scales import NONE_ODDS, SHARED_ERROR

LAYOUTS = ("in-line", "split", "gear")


@cache
def book() -> Book:
    return small_book()


@st.composite
def evidence(draw: st.DrawFn) -> tuple[str, Evidence]:
    """A layout and anything that may be said of it, silent answers among it."""
    layout = draw(st.sampled_from(LAYOUTS))
    symptoms = draw(st.lists(st.sampled_from(sorted(book().symptoms)), unique=True, max_size=3))
    checks = draw(st.lists(st.sampled_from(sorted(book().checks)), unique=True, max_size=6))
    answers = [(c, draw(st.sampled_from([*book().checks[c].outcomes, "unsure", "not tested"]))) for c in checks]
    return layout, Evidence(tuple(symptoms), tuple(answers))


@given(evidence())
def test_everything_sums_to_one_and_stays_in_the_layout(case: tuple[str, Evidence]) -> None:
    layout, seen = case
    ranking = rank(book(), layout, seen)
    total = sum(c.probability for c in ranking.causes) + ranking.two_at_once + ranking.none_of_these
    assert total == pytest.approx(1, abs=1e-12)
    assert {c.id for c in ranking.causes} == {id for id, c in book().causes.items() if layout in c.layouts}
    assert [c.probability for c in ranking.causes] == sorted((c.probability for c in ranking.causes), reverse=True)
    assert ranking.none_of_these > 0


@given(evidence(), st.randoms(use_true_random=False))
def test_the_order_of_telling_does_not_matter(case: tuple[str, Evidence], random: st.random_module) -> None:
    layout, seen = case
    symptoms, answers = list(seen.symptoms), list(seen.answers)
    random.shuffle(symptoms)  # type: ignore[attr-defined]
    random.shuffle(answers)  # type: ignore[attr-defined]
    assert rank(book(), layout, Evidence(tuple(symptoms), tuple(answers))) == rank(book(), layout, seen)


@given(evidence())
def test_unsure_and_not_tested_change_nothing(case: tuple[str, Evidence]) -> None:
    layout, seen = case
    telling = tuple(a for a in seen.answers if a[1] not in ("unsure", "not tested"))
    assert rank(book(), layout, seen) == rank(book(), layout, Evidence(seen.symptoms, telling))


@given(evidence())
def test_taking_an_answer_back_restores_the_ranking_exactly(case: tuple[str, Evidence]) -> None:
    layout, seen = case
    before = rank(book(), layout, seen)
    check = next((id for id in book().checks if id not in dict(seen.answers)), None)
    if check is None:
        return
    added = Evidence(seen.symptoms, (*seen.answers, (check, list(book().checks[check].outcomes)[1])))
    rank(book(), layout, added)
    taken_back = Evidence(added.symptoms, added.answers[:-1])
    assert rank(book(), layout, taken_back) == before


@pytest.mark.parametrize("seed", range(8))
def test_equals_the_sum_over_all_fault_sets_written_out(seed: int) -> None:
    """An independent route: plain Python over every set of at most two faults."""
    rng = np.random.default_rng(seed)
    made = random_book(rng, causes=7, checks=5, symptoms=2)
    shop = Shop(made, "s0")
    answers = {c: str(rng.choice(list(made.checks[c].outcomes))) for c in list(made.checks)[:3]}
    sets = [frozenset(s) for n in (0, 1, 2) for s in itertools.combinations(sorted(made.causes), n)]
    weight = {}
    for faults in sets:
        odds = math.prod(made.causes[c].weight for c in faults) if faults else NONE_ODDS
        told = math.prod(shop.outcomes(faults, c)[o] for c, o in answers.items())
        weight[faults] = odds * shop.seen(faults, "s0") * (1 - shop.seen(faults, "s1")) * told
    total = sum(weight.values())
    ranking = rank(made, "in-line", Evidence(("s0",), (("s1", "no"), *answers.items())))
    assert ranking.none_of_these == pytest.approx(weight[frozenset()] / total, abs=1e-12)
    for cause in ranking.causes:
        assert cause.probability == pytest.approx(weight[frozenset({cause.id})] / total, abs=1e-12)
    assert ranking.two_at_once == pytest.approx(sum(w for s, w in weight.items() if len(s) == 2) / total, abs=1e-12)
    best = max((s for s in sets if len(s) == 2), key=lambda s: weight[s])
    assert set(ranking.pairs[0].ids) == best


def test_alarm_network_of_russell_and_norvig() -> None:
    """Burglary and earthquake are the causes; hypotheses none, one, the other, both.

    The reduction: the hidden alarm is summed out, P(j, m | b, e) = Σa P(a | b, e) P(j | a) P(m | a).
    Expected values: .284172, .176067, .760692 and .052139 (Artificial Intelligence: A Modern Approach prints 0.284).
    """
    burglary, earthquake = 0.001, 0.002
    alarm = np.array([0.001, 0.94, 0.29, 0.95])  # none, burglary, earthquake, both
    odds_b, odds_e = burglary / (1 - burglary), earthquake / (1 - earthquake)
    odds = np.array([1.0, odds_b, odds_e, odds_b * odds_e])
    both_call = alarm * 0.90 * 0.70 + (1 - alarm) * 0.05 * 0.01
    chance = posterior(odds, both_call)
    assert chance[1] + chance[3] == pytest.approx(0.284172, abs=5e-7)
    assert chance[2] + chance[3] == pytest.approx(0.176067, abs=5e-7)
    assert chance @ (alarm * 0.63 / both_call) == pytest.approx(0.760692, abs=5e-7)
    assert (odds / odds.sum()) @ (alarm * 0.90 + (1 - alarm) * 0.05) == pytest.approx(0.052139, abs=5e-7)


def test_weights_are_the_change_of_log_odds_when_the_answer_joins() -> None:
    seen = Evidence(("weak-drive",), (("hot-or-cold", "hot"), ("oil-level", "right")))
    with_it = {c.id: c for c in rank(book(), "in-line", seen).causes}["piston-wear"]
    without = {c.id: c for c in rank(book(), "in-line", Evidence(seen.symptoms, seen.answers[1:])).causes}[
        "piston-wear"
    ]
    moved = math.log(with_it.probability / (1 - with_it.probability))
    moved -= math.log(without.probability / (1 - without.probability))
    heat = next(w for w in with_it.speaks_for if w.text == "worse hot")
    assert heat.weight == pytest.approx(moved, abs=1e-9)
    assert heat.strength == "clearly"
    assert all(w.weight < 0 for c in rank(book(), "in-line", seen).causes for w in c.speaks_against)


def test_multipliers_move_prior_odds() -> None:
    seen = Evidence(("weak-drive",))
    before, after = rank(book(), "in-line", seen), rank(book(), "in-line", seen, weights={"piston-wear": 4.0})
    ratio = {c.id: c.probability for c in after.causes}["piston-wear"] / after.none_of_these
    was = {c.id: c.probability for c in before.causes}["piston-wear"] / before.none_of_these
    assert ratio / was == pytest.approx(4)
    gone = rank(book(), "in-line", seen, weights={"piston-wear": 0.0})
    assert {c.id: c.probability for c in gone.causes}["piston-wear"] == 0
    with pytest.raises(ValueError, match="piston-wear"):
        rank(book(), "in-line", seen, weights={"piston-wear": -1})


def test_two_faults_are_seen_when_one_cannot_explain_it() -> None:
    seen = Evidence(("weak-drive", "shakes"), (("oil-level", "low"), ("joint-play", "front")))
    ranking = rank(book(), "in-line", seen)
    assert ranking.two_at_once > 0.5 > ranking.causes[0].probability
    assert set(ranking.pairs[0].ids) == {"low-oil", "front-joint"}


RIVALS = """
[symptom.weak]
name = "weak"
otherwise = "almost never"
[correction.mend]
name = "mend"
minutes = 10
"""
RIVAL = """
[check.{0}-look]
name = "{0} look"
how = "look"
where = "yard"
minutes = 2
[check.{0}-look.outcomes]
sound = {{ name = "{0} sound", normal = true }}
worn = {{ name = "{0} worn", otherwise = "almost never" }}
[cause.{0}]
name = "{0} worn out"
weight = "everyday"
correction = ["mend"]
shows = {{ weak = "almost always" }}
answers.{0}-look = {{ worn = "almost always" }}
"""


def test_answers_at_odds_are_said_aloud() -> None:
    """Two rival causes of one complaint, and each look says it is that one: hardly ever are both right."""
    made = load_book({"rivals.toml": RIVALS + RIVAL.format("belt") + RIVAL.format("pump")})
    seen = Evidence(("weak",), (("belt-look", "worn"), ("pump-look", "worn")))
    told = rank(made, "gear", seen).contradictions
    assert told == ("“belt worn” and “pump worn” rarely go together: check again",)
    one = Evidence(("weak",), (("belt-look", "worn"), ("pump-look", "sound")))
    assert rank(made, "gear", one).contradictions == ()


def test_a_symptom_and_the_answer_that_denies_it_are_at_odds() -> None:
    addition = '[check.hot-or-cold.outcomes]\nhot = { name = "hot", otherwise = "seldom", same_as = "weak-drive" }\n'
    made = small_book({"ours.toml": addition})
    denied = Evidence(("weak-drive",), (("hot-or-cold", "same"),))
    assert "same hot and cold" in rank(made, "in-line", denied).contradictions[0]
    assert rank(made, "in-line", Evidence(("weak-drive",), (("hot-or-cold", "hot"),))).contradictions == ()


def test_answers_that_agree_are_not_called_odd() -> None:
    seen = Evidence(("weak-drive",), (("oil-level", "low"), ("hot-or-cold", "hot")))
    assert rank(book(), "in-line", seen).contradictions == ()


def test_what_the_book_does_not_know_is_named_and_left_out() -> None:
    strange = Evidence(("weak-drive", "purrs"), (("oil-level", "violet"), ("x-ray", "yes"), ("shaft-runout", "bent")))
    ranking = rank(book(), "split", strange)
    assert ranking.left_out == ("oil-level", "purrs", "shaft-runout", "x-ray")
    assert ranking.causes == rank(book(), "split", Evidence(("weak-drive",))).causes


def test_a_layout_there_is_not_is_an_error() -> None:
    with pytest.raises(ValueError, match="hover"):
        rank(book(), "hover", Evidence())


def test_two_checks_that_cold_oil_spoils_are_not_believed_twice() -> None:
    """Written out: both normal because the part is sound, or because the oil was cold."""
    made, names = book(), ("charge-pressure", "case-drain")
    ranking = rank(made, "in-line", Evidence((), tuple((c, "right") for c in names)))
    shop = Shop.__new__(Shop)
    shop.book, shop.tables = made, {}
    here = sorted(c for c, cause in made.causes.items() if "in-line" in cause.layouts)
    weight = {}
    for n in (0, 1, 2):
        for faults in map(frozenset, itertools.combinations(here, n)):
            odds = math.prod(made.causes[c].weight for c in faults) if faults else NONE_ODDS
            sound = math.prod(shop.outcomes(faults, c)["right"] for c in names)
            cold = math.prod(shop.outcomes(frozenset(), c)["right"] for c in names)
            weight[faults] = odds * ((1 - SHARED_ERROR) * sound + SHARED_ERROR * cold)
    assert ranking.none_of_these == pytest.approx(weight[frozenset()] / sum(weight.values()), abs=1e-12)


def test_a_symptom_in_other_words_counts_once() -> None:
    addition = '[check.bypass-lever.outcomes]\nopen = { name = "open", otherwise = "rarely", same_as = "creeps" }\n'
    made = small_book({"ours.toml": addition})
    said = rank(made, "in-line", Evidence(("creeps",)))
    both = rank(made, "in-line", Evidence(("creeps",), (("bypass-lever", "open"),)))
    assert both.causes == said.causes
    other = rank(made, "in-line", Evidence(("creeps",), (("bypass-lever", "home"),)))
    assert other.causes != said.causes

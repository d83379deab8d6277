"""Closed jobs correct the book: few hardly, many surely, and only jobs that teach something."""

from __future__ import annotations

import math

import numpy as np
import pytest
from aids.simulate import answers, causes_of, draw, perturbed
from aids.small_book import small_book

from shopboard.trouble import ClosedResult, Evidence, Tally, learn, rank
from shopboard.trouble.evidence import items
from shopboard.trouble.network import network
from shopboard.trouble.ranking import hypotheses

BOOK = small_book()


def _jobs(cause: str, count: int, hot: int = 0) -> list[ClosedResult]:
    told = [(("hot-or-cold", "hot" if n < hot else "same"),) for n in range(count)]
    return [ClosedResult("in-line", (cause,), ("weak-drive",), answers) for answers in told]


def _of(book: object, cause: str, other: str) -> float:
    return book.causes[cause].weight / book.causes[other].weight  # type: ignore[attr-defined]


def test_three_jobs_do_not_overrule_the_book_and_three_hundred_do() -> None:
    rare = "shaft-bent"  # the book: a sixteenth of the front joint
    few = learn(BOOK, _jobs(rare, 3), "in-line").book
    many = learn(BOOK, _jobs(rare, 300), "in-line").book
    assert _of(BOOK, rare, "front-joint") < _of(few, rare, "front-joint") < 0.2
    assert _of(many, rare, "front-joint") > 5


def test_what_a_cause_shows_follows_the_counts() -> None:
    three = learn(BOOK, _jobs("piston-wear", 3, hot=0), "in-line").book.causes["piston-wear"]
    many = learn(BOOK, _jobs("piston-wear", 300, hot=60), "in-line").book.causes["piston-wear"]
    assert 0.7 < three.answers["hot-or-cold"]["hot"] < 0.80
    assert many.answers["hot-or-cold"]["hot"] < 0.3
    assert many.answers["case-drain"]["high"] == pytest.approx(0.80)  # nobody measured it


def test_no_jobs_is_the_book_itself() -> None:
    learned = learn(BOOK, [], "in-line")
    assert learned.said == () and learned.jobs == (0, 0, 0) and learned.book.causes == BOOK.causes
    for seen in (Evidence(("weak-drive",)), Evidence(("creeps",), (("pedal-travel", "short"),))):
        for old, new in zip(
            rank(BOOK, "in-line", seen).causes, rank(learned.book, "in-line", seen).causes, strict=True
        ):
            assert new.id == old.id and new.probability == pytest.approx(old.probability, abs=1e-12)


def test_comebacks_and_strange_causes_teach_nothing() -> None:
    bad = [
        ClosedResult("in-line", ("shaft-bent",), ("shakes",), good=False),
        ClosedResult("in-line", ("gremlins",), ("shakes",), (("joint-play", "front"),)),
        ClosedResult("in-line", (), ("shakes",)),
    ]
    assert learn(BOOK, bad * 50, "in-line").said == ()


def test_taking_a_job_out_takes_its_lesson_out() -> None:
    jobs = [*_jobs("piston-wear", 20, hot=9), *_jobs("low-oil", 12, hot=2)]
    assert learn(BOOK, jobs[:-1], "in-line").said == learn(BOOK, [*jobs[:20], *jobs[20:-1]], "in-line").said
    assert learn(BOOK, jobs, "in-line").said == learn(BOOK, list(reversed(jobs)), "in-line").said
    assert learn(BOOK, jobs, "in-line").said != learn(BOOK, jobs[:-1], "in-line").said


def test_says_what_the_book_says_and_what_this_shop_says() -> None:
    said = {(s.cause, s.finding): s for s in learn(BOOK, _jobs("piston-wear", 40, hot=10), "in-line").said}
    line = said["piston-wear", "hot-or-cold hot"]
    assert (line.seen, line.of, line.shop) == (10, 40, 0.25)
    assert line.book > line.now > line.shop
    assert line.text.startswith("piston-wear, hot-or-cold hot: book says")
    assert "this shop says 10 of 40" in line.text
    weight = said["piston-wear", ""]
    assert weight.book < weight.now < weight.shop == 1


def test_other_layouts_and_families_shape_the_estimate_less_than_their_own() -> None:
    elsewhere = [ClosedResult("split", ("piston-wear",), answers=(("hot-or-cold", "same"),))] * 40
    own = [ClosedResult("in-line", ("piston-wear",), answers=(("hot-or-cold", "same"),))] * 40
    family = [ClosedResult("in-line", ("piston-wear",), answers=(("hot-or-cold", "hot"),), family="steep")] * 40

    def hot(jobs: list[ClosedResult], of: str = "") -> float:
        book = learn(BOOK, jobs, "in-line", family=of).book
        return book.causes["piston-wear"].answers["hot-or-cold"]["hot"]

    assert hot(own) < 0.8 and hot(elsewhere) < 0.8
    assert hot([*own, *family], of="steep") > hot([*own, *family])


def test_jobs_counted_once_teach_every_layout_and_family_the_same() -> None:
    jobs = [
        *_jobs("piston-wear", 12, hot=9),
        *[ClosedResult("split", ("piston-wear",), answers=(("hot-or-cold", "same"),), family="steep")] * 5,
        *[ClosedResult("in-line", ("low-oil",), answers=(("oil-level", "low"),), family="steep")] * 7,
        ClosedResult("in-line", ("low-oil",), family="steep", good=False),
    ]
    tally = Tally(BOOK, jobs)
    for layout, family, counted in (("in-line", "", (5, 19, 0)), ("in-line", "steep", (5, 19, 7)),
                                    ("split", "steep", (19, 5, 5)), ("gear", "", (24, 0, 0))):  # fmt: skip
        once, again = learn(BOOK, tally, layout, family=family), learn(BOOK, jobs, layout, family=family)
        assert once.said == again.said and once.book.causes == again.book.causes
        assert once.jobs == counted
        assert {said.of for said in once.said if not said.finding} == {counted[1]}


def test_a_cause_the_book_does_not_list_takes_the_answers_with_it() -> None:
    """Two faults, one of them not in the book: what was seen may have been the other's."""
    told = (("hot-or-cold", "same"), ("case-drain", "right"))
    both = [ClosedResult("in-line", ("piston-wear", "other"), answers=told)] * 30
    learned = learn(BOOK, both, "in-line")
    assert learned.of("piston-wear").keys() == {""}
    assert learned.book.causes["piston-wear"].answers["hot-or-cold"]["hot"] == pytest.approx(0.8)


def test_a_symptom_told_unasked_teaches_nothing_and_one_asked_for_does() -> None:
    unasked = [ClosedResult("in-line", ("front-joint",), ("weak-drive",))] * 40
    asked = [ClosedResult("in-line", ("front-joint",), (), (("shakes", "no"),))] * 40
    assert learn(BOOK, unasked, "in-line").book.causes["front-joint"].shows == {"shakes": pytest.approx(0.80)}
    assert learn(BOOK, asked, "in-line").book.causes["front-joint"].shows["shakes"] < 0.5


def test_a_link_the_book_does_not_name_needs_loud_jobs() -> None:
    two = [ClosedResult("in-line", ("pedal-blocked",), answers=(("hot-or-cold", "cold"),))] * 2
    thirty = two * 15
    assert "hot-or-cold" not in learn(BOOK, two[:1], "in-line").book.causes["pedal-blocked"].answers
    assert learn(BOOK, thirty, "in-line").book.causes["pedal-blocked"].answers["hot-or-cold"]["cold"] > 0.5


def test_learning_mends_a_wrong_book() -> None:
    """A book one word off in a third of its entries; 1,500 jobs from the true one take most of the loss back."""
    rng = np.random.default_rng(11)
    true, wrong = BOOK, perturbed(BOOK, rng, words=1 / 3)
    net = network(true, "in-line")

    def job() -> tuple[int, Evidence]:
        machine = draw(net, rng, asked=1)
        return machine.hypothesis, Evidence(machine.symptoms, machine.asked + answers(net, machine, net.checks, rng))

    jobs, cases = [job() for _ in range(1500)], [job() for _ in range(400)]
    results = [ClosedResult("in-line", causes_of(net, h), e.symptoms, e.answers) for h, e in jobs]

    def loss(book: object) -> float:
        own = network(book, "in-line")  # type: ignore[arg-type]
        return -sum(math.log(hypotheses(own, items(own, e))[h]) for h, e in cases) / len(cases)

    learned = learn(wrong, results, "in-line").book
    assert loss(true) < loss(learned) < loss(wrong)
    assert loss(wrong) - loss(learned) >= 0.4 * (loss(wrong) - loss(true))

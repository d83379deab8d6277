"""Union labour against a search over every order of every step; shares against Shapley's own definition."""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterator
from fractions import Fraction
from itertools import permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.estimate.covers import Cover, Graph, graph_of, routes
from shopboard.estimate.labour import labour
from shopboard.estimate.steps import RoadTest, Work, lay_out, marginal

#: How many random machines the search is held against.
MACHINES = 520


def _machine(rng: random.Random, *, ways: bool = True) -> tuple[Graph, list[Work]]:
    """A machine of 2 to 5 covers and 1 to 3 works, some places with two or three ways."""
    names = [f"c{n}" for n in range(rng.randint(2, 5))]
    covers = {}
    for n, name in enumerate(names):
        under = tuple(rng.sample(names[:n], rng.randint(0, min(n, 2))))
        covers[name] = Cover(name, rng.randint(0, 20), rng.randint(0, 20), under, rng.choice((1, 1, 1, 2)))
    places = {}
    if ways and rng.random() < 0.6:
        places["inside"] = tuple(tuple(rng.sample(names, rng.randint(0, 2))) for _ in range(rng.randint(2, 3)))
    reach = [*names, *places]
    works = [
        Work(f"w{n}", f"w{n}", rng.randint(0, 40), tuple(rng.sample(reach, rng.randint(0, 2))), rng.choice((1, 2)))
        for n in range(rng.randint(1, 3))
    ]
    return Graph(covers, places), works


def _least(graph: Graph, works: list[Work], starts_off: frozenset[str] = frozenset()) -> float:
    """The least billed minutes to have every work done and every cover on, by Dijkstra's search over what is done and
    what is off: every order of taking off, working and putting on, and every way in, is somewhere in it."""
    queue, seen, ties = [(0.0, 0, frozenset(), starts_off)], set(), 0
    while queue:
        spent, _, done, off = heapq.heappop(queue)
        if (done, off) in seen:
            continue
        if len(done) == len(works) and not off:
            return spent
        seen.add((done, off))
        for minutes, now_done, now_off in _moves(graph, works, done, off):
            ties += 1
            heapq.heappush(queue, (spent + minutes, ties, now_done, now_off))
    raise AssertionError("the work cannot be done")


_Move = tuple[float, frozenset[str], frozenset[str]]


def _moves(graph: Graph, works: list[Work], done: frozenset[str], off: frozenset[str]) -> Iterator[_Move]:
    for id, cover in graph.covers.items():
        if id in off:
            yield cover.on * cover.people, done, off - {id}
        elif all(above in off for above in cover.under):
            yield cover.off * cover.people, done, off | {id}
    for work in works:
        if work.id not in done and all(_open(graph, need, off) for need in work.covers):
            yield work.minutes * work.people, done | {work.id}, off


def _open(graph: Graph, need: str, off: frozenset[str]) -> bool:
    if need in graph.covers:
        return need in off
    return any(all(_open(graph, one, off) for one in way) for way in graph.ways[need])


def test_union_labour_is_the_least_over_all_orders_of_random_machines() -> None:
    rng, with_ways = random.Random(6), 0
    for _ in range(MACHINES):
        graph, works = _machine(rng)
        with_ways += "inside" in graph.ways and any("inside" in work.covers for work in works)
        assert lay_out(graph, works).billed == _least(graph, works)
    assert with_ways > 50  # the ways were really tried


def test_it_agrees_with_the_plain_union_where_one_person_and_one_way_do() -> None:
    rng = random.Random(7)
    for _ in range(100):
        graph, works = _machine(rng, ways=False)
        plain = labour([(work.minutes, work.covers) for work in works], graph.covers)
        assert lay_out(graph, works).clock == plain.total


def test_the_order_of_the_work_does_not_matter() -> None:
    rng = random.Random(8)
    for _ in range(40):
        graph, works = _machine(rng)
        assert len({lay_out(graph, order).billed for order in permutations(works)}) == 1


def test_the_steps_can_be_done_as_they_stand() -> None:
    """Each cover comes off when those above it are off and goes on with nothing open beneath; work finds its way."""
    rng = random.Random(9)
    for _ in range(150):
        graph, works = _machine(rng)
        cut = rng.randint(0, len(works))
        on = rng.choice((None, (rng.choice(list(graph.covers)),)))
        plan = lay_out(graph, [*works[:cut], RoadTest("t", "t", 10, on), *works[cut:]])
        off: set[str] = set()
        for step in plan.steps:
            if step.kind == "off":
                assert step.id not in off and set(graph.covers[step.id].under) <= off
                off.add(step.id)
            elif step.kind == "on":
                assert step.id in off and not any(step.id in graph.covers[other].under for other in off)
                off.remove(step.id)
            elif step.kind == "work":
                needs = next(work.covers for work in works if work.id == step.id)
                assert all(_open(graph, need, frozenset(off)) for need in needs)
            else:
                assert not off & set(graph.covers if on is None else on)
        assert not off


def test_a_test_with_everything_on_splits_the_job_in_two() -> None:
    """With every cover on in the middle, the parts before and after cost what they cost alone (one way in)."""
    rng = random.Random(10)
    for _ in range(100):
        graph, works = _machine(rng, ways=False)
        cut = rng.randint(0, len(works))
        plan = lay_out(graph, [*works[:cut], RoadTest("t", "t", 12), *works[cut:]])
        assert plan.billed == lay_out(graph, works[:cut]).billed + 12 + lay_out(graph, works[cut:]).billed


# -- fair shares ------------------------------------------------------------------------------------------------------


def _shapley(graph: Graph, works: list[Work]) -> dict[str, Fraction]:
    """By definition: what each adds when all come in turn, averaged over every order of coming."""
    share, orders = {work.id: Fraction(0) for work in works}, list(permutations(works))
    for order in orders:
        before = Fraction(0)
        for count, work in enumerate(order, 1):
            covers = {id for w in order[:count] for id in graph.order(w.covers, {})}
            after = sum((Fraction(graph.covers[id].billed) for id in covers), Fraction(0))
            share[work.id] += Fraction(work.billed) + after - before
            before = after
    return {id: total / len(orders) for id, total in share.items()}


def test_shares_are_shapley_values_and_add_up() -> None:
    rng = random.Random(11)
    for _ in range(150):
        graph, works = _machine(rng, ways=False)
        plan = lay_out(graph, works)
        shares = plan.shares()
        assert sum(shares.values()) == pytest.approx(plan.billed)
        for id, share in _shapley(graph, works).items():
            assert shares[id] == pytest.approx(float(share))


def test_shares_with_a_test_between_and_a_cover_nobody_needs_still_add_up() -> None:
    graph = Graph({"plate": Cover("plate", 6, 8), "hood": Cover("hood", 3, 3)})
    todo = [Work("a", "a", 10, ("plate",)), RoadTest("t", "t", 15), Work("b", "b", 20, ("plate",))]
    plan = lay_out(graph, todo, already_off={"hood", "plate"})
    # plate: off already, on for the test, off and on again after it; hood: only put back, for the test as well
    assert plan.shares() == {"a": 10 + 4, "t": 15 + 6 + 8, "b": 20 + 4, "": 3}
    assert plan.billed == 10 + 8 + 3 + 15 + 6 + 20 + 8


# -- marginal minutes -------------------------------------------------------------------------------------------------


@given(st.integers(0, 10_000))
def test_doing_more_together_never_costs_more_than_alone(seed: int) -> None:
    graph, works = _machine(random.Random(seed))
    *given_, further = works
    alone = lay_out(graph, [further]).billed
    assert further.billed <= marginal(graph, further, given_) <= alone


# -- what is off already ----------------------------------------------------------------------------------------------


def test_what_is_off_already_is_only_put_back() -> None:
    rng = random.Random(12)
    for _ in range(100):
        graph, works = _machine(rng, ways=False)
        off = frozenset(graph.order(rng.sample(list(graph.covers), 1), {}))
        assert lay_out(graph, works, already_off=off).billed == _least(graph, works, off)


# -- routes -----------------------------------------------------------------------------------------------------------


def test_routes_are_every_choice_cheapest_first_as_the_bay_allows() -> None:
    covers = {
        "deck": Cover("deck", 10, 15),
        "floor": Cover("floor", 6, 8),
        "shield": Cover("shield", 5, 6, ("floor",)),
        "lifted": Cover("machine on the lift", 4, 3, (), 1, ("lift",)),
    }
    graph = Graph(covers, {"rod": (("shield",), ("deck",), ("lifted",))})
    found = routes(graph, ["rod"])
    assert [(route.covers, route.billed) for route in found] == [
        (("lifted",), 7),
        (("floor", "shield"), 25),
        (("deck",), 25),
    ]
    assert [route.covers for route in routes(graph, ["rod"], can=())] == [("floor", "shield"), ("deck",)]
    assert routes(graph, ["rod"], can=(), already_off={"floor"})[0].billed == 11
    assert lay_out(graph, [Work("w", "w", 1, ("rod",))], can=()).billed == 26
    with pytest.raises(ValueError, match="does not offer"):
        lay_out(graph, [Work("w", "w", 1, ("lifted",))], can=("yard",))


def test_the_way_is_chosen_for_the_whole_job_not_for_each_work() -> None:
    """Alone the rod is reached from below; with a pump beneath the floor the floor is off anyway."""
    graph = Graph({"deck": Cover("deck", 5, 5), "floor": Cover("floor", 6, 8)}, {"rod": (("deck",), ("floor",))})
    rod, pump = Work("rod", "rod", 10, ("rod",)), Work("pump", "pump", 60, ("floor",))
    assert lay_out(graph, [rod]).covers == ("deck",)
    assert lay_out(graph, [rod, pump]).covers == ("floor",)
    assert marginal(graph, rod, [pump]) == 10


def test_random_routes_are_all_the_choices() -> None:
    rng = random.Random(13)
    for _ in range(60):
        graph, _ = _machine(rng)
        if "inside" in graph.ways:
            found = {frozenset(route.covers) for route in routes(graph, ["inside"])}
            assert found == {frozenset(graph.order(way, {})) for way in graph.ways["inside"]}


def test_ways_within_ways() -> None:
    graph = Graph(
        {id: Cover(id, 1, 1) for id in "abcd"},
        {"room": (("a",), ("hall",)), "hall": (("b",), ("c", "d"))},
    )
    assert {route.covers for route in routes(graph, ["room"])} == {("a",), ("b",), ("c", "d")}
    both = routes(graph, ["room", "hall"])
    assert {frozenset(route.covers) for route in both} == {frozenset(covers) for covers in ("ab", "acd", "b", "cd")}
    assert len(both) == len(list(product(range(2), range(2))))


@pytest.mark.parametrize(
    ("covers", "ways", "why"),
    [
        ({"a": Cover("a", -1, 0)}, {}, "minutes"),
        ({"a": Cover("a", float("nan"), 0)}, {}, "minutes"),
        ({"a": Cover("a", 1, 1, (), 0)}, {}, "somebody"),
        ({"a": Cover("a", 1, 1, ("b",))}, {}, "no cover here"),
        ({"a": Cover("a", 1, 1)}, {"p": ()}, "no way"),
        ({"a": Cover("a", 1, 1)}, {"p": (("x",),)}, "no cover here"),
        ({"a": Cover("a", 1, 1, ("p",))}, {"p": (("a",),)}, "lie under each other"),
    ],
)
def test_a_graph_that_cannot_be_is_refused(covers: dict, ways: dict, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        Graph(covers, ways)


def test_too_many_ways_are_refused() -> None:
    covers = {f"{n}{side}": Cover("c", 1, 1) for n in range(13) for side in "ab"}
    graph = Graph(covers, {f"p{n}": ((f"{n}a",), (f"{n}b",)) for n in range(13)})
    with pytest.raises(ValueError, match="more than 4096 ways"):
        routes(graph, [f"p{n}" for n in range(13)])


def test_unknown_covers_and_double_ids_are_told() -> None:
    graph = Graph({"a": Cover("a", 1, 1)})
    with pytest.raises(KeyError):
        lay_out(graph, [Work("w", "w", 1, ("hood",))])
    with pytest.raises(ValueError, match="same id"):
        lay_out(graph, [Work("w", "w", 1), Work("w", "v", 1)])


def test_a_graph_is_of_one_layout_with_the_models_own_covers() -> None:
    class Entry:
        def __init__(self, name: str, layouts: tuple[str, ...], under: tuple[str, ...] = ()) -> None:
            self.name, self.layouts, self.under = name, layouts, under
            self.off, self.on, self.people = 5.0, 6.0, 1

    entries = {"floor": Entry("floor", ("in-line",)), "seat": Entry("seat", ("split",))}
    own = {"floor": Cover("floor of this model", 9, 9, (), 2)}
    graph = graph_of(entries, "in-line", changes=own)
    assert graph.covers == own and set(graph_of(entries).covers) == {"floor", "seat"}

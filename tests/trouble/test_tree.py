"""The tree is the policy written down: readable, safe, and what the board would say at each step."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from aids.small_book import small_book

from shopboard.trouble import Evidence, TreeNode, advise, triage_tree

BOOK = small_book()


def _nodes(node: TreeNode, depth: int = 0) -> Iterator[tuple[int, TreeNode]]:
    yield depth, node
    for branch in node.branches:
        yield from _nodes(branch.node, depth + 1)


@pytest.mark.parametrize(("layout", "symptom"), [("in-line", "weak-drive"), ("split", "creeps"), ("gear", "shakes")])
def test_a_tree_is_complete_and_ends(layout: str, symptom: str) -> None:
    tree = triage_tree(BOOK, layout, symptom)
    for depth, node in _nodes(tree):
        assert depth <= 5
        if node.kind == "check":
            assert {b.outcome for b in node.branches} == set(BOOK.checks[node.id].outcomes)
            assert sum(b.probability for b in node.branches) == pytest.approx(1)
            assert layout in BOOK.checks[node.id].layouts
            assert node.cautions == tuple(BOOK.cautions[c].text for c in BOOK.checks[node.id].cautions)
        else:
            assert node.branches == ()
        if node.kind == "repair":
            assert layout in BOOK.corrections[node.id].layouts


def test_a_path_follows_what_advise_says() -> None:
    tree = triage_tree(BOOK, "in-line", "weak-drive")
    seen, node = Evidence(("weak-drive",)), tree
    at, off = "counter", frozenset[str]()
    while node.kind == "check":
        advice = advise(BOOK, "in-line", seen, at=at, covers_off=off)
        assert (node.id, node.minutes) == (advice.checks[0].check, advice.checks[0].minutes)
        branch = node.branches[0]
        at, off = BOOK.checks[node.id].where, off | set(node.covers)
        seen = Evidence(seen.symptoms, (*seen.answers, (node.id, branch.outcome)))
        node = branch.node
    path = tree.walk(dict(seen.answers))
    assert path[-1] == node and len(path) == len(seen.answers) + 1
    assert tree.walk({}) == (tree,)


def test_what_cannot_be_done_is_not_in_the_tree() -> None:
    tree = triage_tree(BOOK, "in-line", "weak-drive", lacks=("test port",), instruments=())
    tools = {BOOK.checks[node.id].tool for _, node in _nodes(tree) if node.kind in ("check", "further")}
    assert tools <= {""}


def test_depth_is_kept() -> None:
    shallow = triage_tree(BOOK, "in-line", "weak-drive", depth=1)
    assert max(depth for depth, _ in _nodes(shallow)) == 1
    assert {node.kind for depth, node in _nodes(shallow) if depth == 1} <= {"further", "repair", "stop"}


def test_a_symptom_of_another_layout_is_an_error() -> None:
    with pytest.raises(ValueError, match="creeps is no symptom of gear"):
        triage_tree(BOOK, "gear", "creeps")

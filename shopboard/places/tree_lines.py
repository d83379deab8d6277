"""The triage tree as lines: what to do, how it may come out, where that leads; the path answered so far lit."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from functools import partial

from shopboard.trouble import Book, TreeNode, triage_tree
from shopboard.trouble.tree_words import node_cautions, node_words

from .lines import Line, Role, line, share, wrapped


def tree_page(
    book: Book,
    layout: str,
    symptom: str,
    answers: Mapping[str, str],
    *,
    lacks: Collection[str] = (),
    instruments: Collection[str] | None = None,
    depth: int = 3,
    whole_cautions: bool = False,
) -> Callable[[int], list[Line]]:
    """The tree of one symptom on one layout; `answers` (outcome by check) light the path.

    Checks that the unit (`lacks`) or the shop (`instruments`, None: all) does not allow are left out. Cautions stand
    before each check by name, or in full with `whole_cautions`, as a wall chart needs them.
    """
    node = triage_tree(book, layout, symptom, lacks=lacks, instruments=instruments, depth=depth)
    return partial(_lines, book, node, answers, whole_cautions)


def _lines(book: Book, node: TreeNode, answers: Mapping[str, str], whole: bool, width: int) -> list[Line]:
    lit = {id(step) for step in node.walk(answers)}
    return _grown(book, node, lit, whole, "", width)


def _grown(book: Book, node: TreeNode, lit: set[int], whole: bool, indent: str, width: int) -> list[Line]:
    here = id(node) in lit
    role: Role = "mark" if here else ""
    rows = _cautions(book, node, whole, indent + "  ", width)
    rows += _hung(node_words(book, node, share), width, role, indent, "> " if here else "  ")
    for branch in node.branches:
        on = id(branch.node) in lit
        title = f"{branch.name}  {share(branch.probability)}"
        rows += _hung(title, width, "mark" if on else "strong", indent + "    ", "= " if on else "- ")
        rows += _grown(book, branch.node, lit, whole, indent + "    ", width)
    return rows


def _hung(text: str, width: int, role: Role, indent: str, mark: str) -> list[Line]:
    """The text with `mark` before its first line and blanks before the others."""
    rows = wrapped(text, width, role, indent=indent + " " * len(mark))
    return [line(None, (indent + mark + rows[0].text.strip(), role)), *rows[1:]]


def _cautions(book: Book, node: TreeNode, whole: bool, indent: str, width: int) -> list[Line]:
    named = node_cautions(book, node)
    texts = [c.text for c in named] if whole else ["; ".join(c.name for c in named)] if named else []
    return [row for text in texts for row in wrapped(f"CAUTION  {text}", width, "late", indent=indent)]

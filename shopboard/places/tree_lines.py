"""The triage tree as lines: what to do, how it may come out, where that leads; the path answered so far lit."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from functools import partial

from shopboard.trouble import Book, TreeNode, triage_tree

from .lines import Line, Role, line, share, wrapped

_WHERE = {"counter": "ask", "yard": "yard", "bay": "bay", "move": "on the move"}


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
    rows += _hung(_words(book, node), width, role, indent, "> " if here else "  ")
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
    if node.kind == "further":
        return []
    entry = book.checks.get(node.id) if node.kind == "check" else book.corrections.get(node.id)
    named = [book.cautions[c] for c in entry.cautions if c in book.cautions] if entry else []
    texts = [c.text for c in named] if whole else ["; ".join(c.name for c in named)] if named else []
    return [row for text in texts for row in wrapped(f"CAUTION  {text}", width, "late", indent=indent)]


def _words(book: Book, node: TreeNode) -> str:
    covers = ", ".join(book.covers[c].name for c in node.covers if c in book.covers)
    off = f", off: {covers}" if covers else ""
    likely = ", ".join(f"{name} {share(p)}" for _, name, p in node.causes[:2])
    if node.kind == "check":
        return f"{node.name}  ({_WHERE.get(node.where, node.where)}, {node.minutes:.0f} min{off})"
    if node.kind == "repair":
        return f"mend: {node.name} ({node.minutes:.0f} min{off}; likely {likely})"
    if node.kind == "further":
        return f"go on: {node.name} (likely {likely})"
    return f"stop: the book knows no more (likely {likely})"

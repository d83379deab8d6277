"""What a step of the tree is called, wherever it stands: on the Bench, in a terminal, on the wall."""

from __future__ import annotations

from collections.abc import Callable

from .book import Book, Caution
from .tree import TreeNode

_WHERE = {"counter": "ask", "yard": "in the yard", "bay": "in the bay", "move": "on the move"}


def node_words(book: Book, node: TreeNode, percent: Callable[[float], str]) -> str:
    """The step in a line: what, where, how long, which covers are off for it, or what is likely where checks end.
    `percent` writes a probability."""
    covers = ", ".join(book.covers[id].name for id in node.covers if id in book.covers)
    off = f", off: {covers}" if covers else ""
    likely = ", ".join(f"{name} {percent(share)}" for _, name, share in node.causes[:2])
    if node.kind == "check":
        return f"{node.name}  ({_WHERE.get(node.where, node.where)}, {node.minutes:.0f} min{off})"
    if node.kind == "repair":
        return f"mend: {node.name} ({node.minutes:.0f} min{off}; likely {likely})"
    if node.kind == "further":
        return f"go on: {node.name} (likely {likely})"
    return f"stop: the book knows no more (likely {likely})"


def node_cautions(book: Book, node: TreeNode) -> tuple[Caution, ...]:
    """The cautions of the step, to stand before it; none where the tree only says how to go on."""
    if node.kind not in ("check", "repair"):
        return ()
    entry = book.checks.get(node.id) if node.kind == "check" else book.corrections.get(node.id)
    return tuple(book.cautions[id] for id in entry.cautions if id in book.cautions) if entry else ()

"""The trouble chart for the wall: what to check first for a symptom, and where each outcome leads."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from shopboard.records import Layout, Refused
from shopboard.trouble import Book, TreeNode, suggest_symptoms, triage_tree
from shopboard.trouble.tree_words import node_cautions, node_words

from .blocks import Block, Heading, Sheet, Words
from .desk import MAKER_FIRST, chance


def trouble_chart(
    book: Book, symptom: str, layout: str, head: str, *, instruments: Collection[str] | None = None, depth: int = 3
) -> Sheet:
    """The chart of one symptom (its id, name, or words for it) on one layout; `instruments` are the shop's (None: all).

    Raises Refused for a layout or symptom that is none.
    """
    layouts = [each.value for each in Layout]
    if layout not in layouts:
        raise Refused(f"there is no layout {layout}", f"take {', '.join(layouts)}")
    id = _symptom(book, symptom, layout)
    node = triage_tree(book, layout, id, instruments=instruments, depth=depth)
    name = book.symptoms[id].name
    blocks = (Words(MAKER_FIRST, "caution"), *_grown(book, node, 0))
    return Sheet(f"Trouble chart: {name}", head, f"{name}, {layout}", blocks)


def _symptom(book: Book, words: str, layout: str) -> str:
    here = {id: symptom for id, symptom in book.symptoms.items() if layout in symptom.layouts}
    wanted = words.strip().lower()
    for id, symptom in here.items():
        if wanted in (id, symptom.name.lower()):
            return id
    near = [here[id].name for id, _ in suggest_symptoms(book, words) if id in here][:3]
    names = near or [symptom.name for symptom in here.values()]
    raise Refused(f"no symptom “{words}” on {layout}", f"take {' or '.join(names)}")


def _grown(book: Book, node: TreeNode, indent: int) -> Iterator[Block]:
    for caution in node_cautions(book, node):
        yield Words(caution.text, "caution", indent, keep=True)
    words, check = node_words(book, node, chance), node.kind == "check"
    yield Words(words, "strong" if check else "plain", indent, keep=check)
    if node.kind == "check" and node.how:
        yield Words(node.how, "small", indent)
    for branch in node.branches:
        title = f"{branch.name} ({chance(branch.probability)})"
        yield Heading(f"If {title}") if indent == 0 else Words(f"if {title}:", "plain", indent, keep=True)
        yield from _grown(book, branch.node, indent + 1)

"""The one registry of what keys do: footer, help page, palette and README's key table are all made from it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from textual.binding import Binding

EVERYWHERE = "everywhere"


class Action(NamedTuple):
    """Something a key does. `keys` are Textual key names, the first one is shown; `footer` orders the footer
    (0: not there); `places` names where it works."""

    id: str
    keys: str
    label: str
    help: str
    places: tuple[str, ...] = (EVERYWHERE,)
    footer: int = 0


#: The places by id: key, title and what one stands there for.
PLACES: dict[str, tuple[str, str, str]] = {
    "counter": ("c", "Counter", "take in a machine with its complaint"),
    "floor": ("f", "Floor", "which bay holds what, what waits and for what"),
    "bench": ("b", "Bench", "one job: what was said, likely causes, next checks"),
    "parts": ("p", "Parts", "what is late, what arrives, what must be ordered"),
    "office": ("o", "Office", "the owner's minute: late, calls to make, stuck, came back"),
}

#: Places where letters are typed into a form: keys that are letters or signs do not work there.
TYPING = frozenset({"counter"})

_PLACE_ACTIONS = tuple(
    Action(f"place('{place}')", key, title.lower(), f"go to {'' if place == 'parts' else 'the '}{title}: {purpose}")
    for place, (key, title, purpose) in PLACES.items()
)

ACTIONS: tuple[Action, ...] = (
    *_PLACE_ACTIONS,
    Action("new_intake", "n", "intake", "take in a machine; a half-typed intake is offered again", footer=6),
    Action("find", "slash", "find", "find a tag, customer, phone, serial, model or a word of a complaint", footer=7),
    Action("help", "question_mark,f1", "help", "what this place is for and what its keys do", footer=9),
    Action("undo", "u", "undo", "take back your last change, if nothing came after it"),
    Action("who", "i", "who I am", "say who works at this terminal and signs its changes"),
    Action("lock", "ctrl+l", "lock", "lock this terminal until somebody who works here opens it"),
    Action("back", "escape,backspace", "back", "go back to where you were", footer=8),
    Action("palette", "ctrl+p", "actions", "every action of this place by name"),
    Action("look", "ctrl+t", "light or dark", "switch between the bright look and the night look"),
    Action("walk", "ctrl+g", "walk", "be shown round in eight steps, or leave that walk"),
    Action("leave", "ctrl+q", "leave", "leave the board; everything committed is kept"),
    Action("give_tag", "ctrl+s", "give the tag", "take the machine in and give its tag", ("counter",), 1),
    Action("empty", "ctrl+n", "empty the form", "throw the half-typed intake away", ("counter",), 2),
    Action("open", "enter", "open", "open the job under the cursor on the Bench", ("floor", "office"), 1),
    Action(
        "step", "s", "next step", "what may happen next with this job, and why not", ("floor", "bench", "office"), 2
    ),
    Action(
        "take_next",
        "t",
        "my next",
        "take my next job: the first of the plan that can start now, and why",
        ("floor",),
        3,
    ),
    Action("move", "m", "move", "move a job in the plan and see what that does to others first", ("floor",), 4),
    Action("moved", "y", "what moved", "everything the plan moved last, by how much and why", ("floor",)),
    Action(
        "closure",
        "a",
        "away or down",
        "somebody is away, a bay is down or the shop closed, until when; or that is over",
        ("floor",),
    ),
    Action("wall", "w", "wall", "large type for a screen on the wall; w or Esc shows the list again", ("floor",)),
    Action("take", "enter", "answer", "answer the check, or record the cause, under the cursor", ("bench",), 1),
    Action("side", "tab,left,right", "causes/checks", "move between likely causes and next checks", ("bench",)),
    Action("answer_any", "a", "any check", "answer any check of the trouble book for this layout", ("bench",), 3),
    Action("tree", "t", "tree", "the triage tree for this complaint, with the path so far lit", ("bench",), 4),
    Action(
        "says", "x", "book/shop", "what the book and this shop's jobs say of the cause under the cursor", ("bench",)
    ),
    Action("estimate", "e", "estimate", "what this job comes to, and what is worth doing while it is open", ("bench",)),
    Action("part", "r", "part", "request a part for this job", ("bench",), 5),
    Action("reading", "g", "measure", "timed runs, creep, slope, joints, a recording, or a plain reading", ("bench",)),
    Action("finding", "d", "found it", "record cause and correction as found", ("bench",)),
    Action("symptoms", "y", "symptoms", "tick or untick what the machine does", ("bench",)),
    Action("remark", "w", "remark", "write a remark on this job", ("bench",)),
    Action("minutes", "m", "minutes", "book time spent on this job", ("bench",)),
    Action("cover", "v", "covers", "say which covers are off or on again", ("bench",)),
    Action("story", "h", "history", "every change of this job: when, who, why", ("floor", "bench", "parts", "office")),
    Action("part_next", "enter", "next", "the next thing with this line: take, order, receive, fit", ("parts",), 1),
    Action("receive", "r", "receive", "receive what came of this line", ("parts",)),
    Action("order_all", "d", "order all", "order all needed lines of this supplier at once", ("parts",), 2),
    Action("back_order", "x", "back-order", "the supplier has put this line off", ("parts",), 3),
    Action("bins", "e", "bins", "what lies in which bin: count, add pieces, a new bin", ("parts",), 5),
    Action("returns", "v", "returns", "cores and parts that go back to suppliers, until the credit came", ("parts",)),
    Action("part_job", "s", "job", "what may happen next with the job this part is for", ("parts",), 4),
    Action("history", "a", "all history", "every change of the shop: filter by person, job, words, days", ("office",)),
    Action("branches", "x", "all branches", "late, at risk and parts on the shelf over all branches", ("office",)),
    Action("pin", "y", "my PIN", "set, change or take away your own PIN", ("office",)),
    Action("called", "l", "called", "note that the customer was called", ("office",), 3),
    Action("memory", "m", "memory", "what closed jobs teach: early failures, ages, service due", ("office",), 4),
)


def actions_at(place: str) -> Iterator[Action]:
    """The actions that work at a place, its own first."""
    yield from (a for a in ACTIONS if place in a.places)
    yield from (a for a in ACTIONS if EVERYWHERE in a.places)


def bindings_at(place: str) -> list[Binding]:
    """Textual bindings of a place's own actions."""
    return [_binding(a) for a in ACTIONS if place in a.places]


def bindings_everywhere() -> list[Binding]:
    """Textual bindings of the actions that work at every place."""
    return [_binding(a) for a in ACTIONS if EVERYWHERE in a.places]


def _binding(action: Action) -> Binding:
    # Leaving works in every dialog too; other keys there are the dialog's own
    first = action.id == "leave"
    return Binding(action.keys, action.id, action.label, show=False, tooltip=action.help, priority=first)


_KEY_WORDS = {
    "slash": "/",
    "question_mark": "?",
    "escape": "Esc",
    "backspace": "Backspace",
    "enter": "Enter",
    "tab": "Tab",
    "left": "←",
    "right": "→",
    "f1": "F1",
    **{f"ctrl+{letter}": f"Ctrl+{letter.upper()}" for letter in "glnpqst"},
}


def key_words(keys: str) -> str:
    """The keys as a person reads them: "/", "Esc or Backspace"."""
    return " or ".join(_KEY_WORDS.get(key, key) for key in keys.split(","))


def keys_at(place: str, action: Action) -> tuple[str, ...]:
    """The keys of an action that work at a place: where one types, letters and signs are text."""
    keys = tuple(action.keys.split(","))
    if place not in TYPING:
        return keys
    return tuple(key for key in keys if key in ("escape", "f1") or key.startswith("ctrl+"))


def footer_at(place: str, *, own: bool = True) -> list[tuple[str, str]]:
    """The footer of a place: at most seven pairs of key and label, the most used first, help always last; without its
    own actions where there is nothing that they could be about."""
    known = actions_at(place) if own else (a for a in ACTIONS if EVERYWHERE in a.places)
    shown = sorted((a for a in known if a.footer and keys_at(place, a)), key=lambda a: a.footer)
    if len(shown) > 7:
        shown = [*shown[:6], shown[-1]]
    return [(key_words(keys_at(place, a)[0]), a.label) for a in shown]


def key_table() -> str:
    """README's key table, in Markdown."""
    rows = ["| where | key | what it does |", "|---|---|---|"]
    for action in ACTIONS:
        where = ", ".join(PLACES[p][1] if p in PLACES else p for p in action.places)
        rows.append(f"| {where} | `{key_words(action.keys)}` | {action.help} |")
    return "\n".join(rows)

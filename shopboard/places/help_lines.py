"""Help for each place, made from the registry, and the list of people."""

from __future__ import annotations

from collections.abc import Callable

from shopboard.records import ShopState

from .actions import EVERYWHERE, PLACES, TYPING, actions_at, key_words, keys_at
from .lines import BLANK, Line, cell, line, wrapped

_ABOUT = {
    "floor": "One row a bay along the hours of today and, where there is room, of the coming days: a heavy line is "
    "work, with the number of its tag where it is long enough, a dotted one is a machine that only stands there. Below "
    "stands what waits, grouped by what it waits for. “spare” counts working days, without holidays and closed days, "
    "between the day the job is done by the plan and its promise; behind it stands how sure that promise is.",
    "counter": "One question a line. What you type looks for customers and machines the shop knows; the complaint, in "
    "the customer's own words, suggests symptoms to tick. Nothing is ticked by itself. Esc leaves, and what you "
    "typed is offered again at the next n.",
    "bench": "Left what was said and measured, in the middle the likely causes with their probability, right the next "
    "checks: what they cost, what they save on average. Enter answers the check under the cursor; on a cause it "
    "records that cause as found. “odds × 4” says by how much that answer alone multiplied the odds of the cause.",
    "parts": "Late and arriving lines first, each with the job it holds up; then what must be ordered, by supplier. "
    "Enter does the next thing with a line.",
    "office": "What is late and why, whom to call and what to say, what is stuck, what came back.",
}


def help_page(place: str) -> Callable[[int], list[Line]]:
    """What a place is for and what its keys do."""

    def build(width: int) -> list[Line]:
        rows = [*wrapped(_ABOUT[place], width), BLANK, line(None, (f"keys at the {PLACES[place][1]}", "strong"))]
        everywhere = False
        for action in actions_at(place):
            if EVERYWHERE in action.places and not everywhere:
                rows += [BLANK, line(None, ("keys everywhere", "strong"))]
                everywhere = True
            if keys := keys_at(place, action):
                rows += _key_lines(key_words(",".join(keys)), action.help, width)
        return [*rows, BLANK, *wrapped(_WHERE_ONE_TYPES if place in TYPING else _NUMBERS, width, "soft")]

    return build


_NUMBERS = (
    "Type a tag's number and Enter to open that job; a scanner does the same with our printed codes. "
    "Ctrl+P lists every action by name."
)

_WHERE_ONE_TYPES = (
    "Letters and digits are text here, so other places are reached through Ctrl+P or after Esc. Arrows walk the "
    "answers offered, Enter takes one and goes on, Tab and Shift+Tab move between questions."
)


def _key_lines(keys: str, help: str, width: int) -> list[Line]:
    first, *rest = wrapped(help, max(20, width - 20))
    return [line(None, (cell(keys, 18), "mark"), "  ", first.text), *(line(None, " " * 20, row.text) for row in rest)]


def people_lines(state: ShopState) -> Callable[[int], list[Line]]:
    """Everyone who works here, to choose from."""

    def build(width: int) -> list[Line]:
        rows = [
            line(p.id, cell(p.name, 20), (cell(", ".join(p.roles), max(0, width - 20)), "soft"))
            for p in state.settings.people
        ]
        return rows or [line(None, ("nobody yet: name people in shop.toml under [[person]]", "wait"))]

    return build

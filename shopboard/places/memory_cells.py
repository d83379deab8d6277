"""The memory's pages in the Office, in lines: what there is, one component on one model, service due, words held."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from shopboard.memory import Call, ServiceDue, calls
from shopboard.memory.figures import count, rounded
from shopboard.records import ShopState

from .bench_lines import MAKER_FIRST
from .lines import BLANK, Line, Role, cell, heading, line, wrapped
from .memory_lines import dues_lines, each_line, held_lines, leads_lines, said_lines
from .memory_plots import curve_lines, lead_lines, reliability_lines

if TYPE_CHECKING:
    from .knowledge import CellPage, Knowledge, Row

#: Keys of the pages that are not of one component.
HELD, LEADS, SERVICE = "held", "leads", "service"
#: A row's word in a few letters; each is explained where the page is open.
_WORDS = {"act": "act", "watch": "watch", "like others": "as others", "not enough": "too few"}
_ROLES: dict[str, Role] = {"act": "late", "watch": "wait", "not enough": "soft"}
#: Columns of figures at the right of a row.
_FIGURES = 27


def cell_key(component: str, model: str) -> str:
    """The key of a row; `of_key` reads it."""
    return f"cell:{component}|{model}"


def of_key(key: str) -> tuple[str, str] | None:
    """Component and model of a row's key; None for another key."""
    if not key.startswith("cell:"):
        return None
    component, _, model = key.removeprefix("cell:").partition("|")
    return component, model


def calls_of(knowledge: Knowledge, state: ShopState) -> tuple[Call, ...]:
    """The customers to ring for what is due, the earliest first."""
    names = {customer.id: customer.name for customer in state.customers.values()}
    return calls(knowledge.bulk.service.dues, names, knowledge.at.date())


def list_lines(knowledge: Knowledge, names: Mapping[str, str], state: ShopState, width: int) -> list[Line]:
    """What can be opened: three pages of the whole shop, then every component on every model, failing early first."""
    held, service = knowledge.held, knowledge.bulk.service
    rung = len(calls_of(knowledge, state))
    most = knowledge.slower[0].said if knowledge.slower else f"{count(len(knowledge.leads), 'kind')} of parts"
    rows = [
        _opens(HELD, "how our words held", held.first_right.said, width),
        _opens(LEADS, "lead times", most, width),
        _opens(SERVICE, "service due", f"{count(service.many, 'point')}, {count(rung, 'customer')} to ring", width),
        BLANK,
        _columns("one component on one model", width),
    ]
    rows += [_row(row, names, width) for row in knowledge.bulk.rows]
    if not knowledge.bulk.rows:
        rows.append(line(None, ("  no failure with a known age yet", "soft")))
    rows += [BLANK, _columns("one component on all models", width)]
    return [*rows, *(_together(id, many, names, width) for id, many in _by_component(knowledge))]


def _opens(key: str, name: str, said: str, width: int) -> Line:
    return line(key, cell(f"  {name}", 24), (cell(said, max(0, width - 24)), "soft"))


def _columns(what: str, width: int) -> Line:
    figures = f"{'failed':>7} {'expected':>8} {'machines':>10}"
    return line(None, (cell(what, max(0, width - _FIGURES)), "strong"), (cell(figures, _FIGURES), "soft"))


def _row(row: Row, names: Mapping[str, str], width: int) -> Line:
    what = f"{names.get(row.model, row.model)}: {names.get(row.component, row.component.replace('-', ' '))}"
    figures = f"{row.failures:>7,} {rounded(row.expected, 2):>8} {f'{row.hit:,} of {row.machines:,}':>10}"
    word = cell(f"  {_WORDS[row.word]}", 12)
    role = _ROLES.get(row.word, "")
    said = cell(what, max(0, width - 12 - _FIGURES))
    return line(cell_key(row.component, row.model), (word, role), said, cell(figures, _FIGURES))


def _by_component(knowledge: Knowledge) -> list[tuple[str, int]]:
    many: dict[str, int] = {}
    for row in knowledge.bulk.rows:
        many[row.component] = many.get(row.component, 0) + row.failures
    return sorted(many.items(), key=lambda pair: (-pair[1], pair[0]))


def _together(component: str, failures: int, names: Mapping[str, str], width: int) -> Line:
    what = f"  {names.get(component, component.replace('-', ' '))}"
    return line(cell_key(component, ""), cell(what, max(0, width - _FIGURES)), cell(f"{failures:>7,}", _FIGURES))


# -- one page -------------------------------------------------------------------------------------------------------


def cell_lines(page: CellPage, width: int) -> list[Line]:
    """One component on one model: against the others, how it ages, when to replace it, how often it comes again."""
    rows: list[Line] = []
    if page.early is not None:
        early = page.early
        rows += [heading("against other models at the same ages", width), *_early(page, early.word, width), BLANK]
    rows += [heading(f"how it ages, {page.where}", width), *said_lines(page.ageing.said, width)]
    if page.ageing.why_not and page.ageing.why_not != page.ageing.said:
        rows += said_lines(page.ageing.why_not, width, "soft")
    if page.ageing.half is not None:
        rows += said_lines(page.ageing.half.said, width)
    drawn = curve_lines(page.ageing.curve, min(width, 100))
    rows += [BLANK, *drawn] if drawn else []
    rows += [BLANK, heading("when to replace it", width), *_replace(page, width)]
    rows += [BLANK, heading("how often it comes again", width), *said_lines(page.repeats.said, width)]
    return [*rows, BLANK, *wrapped(MAKER_FIRST, width, "soft")]


def _early(page: CellPage, word: str, width: int) -> list[Line]:
    assert page.early is not None
    rows = said_lines(page.early.said, width, _ROLES.get(word, ""), mark=f"{_WORDS[word]:<10}")
    if word in ("act", "watch"):
        rows += said_lines(page.look_said, width, "soft", mark=" " * 10)
    return rows


def _replace(page: CellPage, width: int) -> list[Line]:
    """At which age, by how much dearer a failure is; one sentence where none can be said."""
    said = [figure for _, figure in page.replace if figure.value is not None]
    if not said:
        return said_lines(page.replace[0][1].said, width, "soft") if page.replace else []
    return [
        row
        for times, figure in page.replace
        for row in said_lines(f"where a failure costs {times:g} times a planned change: {figure.said}", width)
    ]


# -- pages of the whole shop ----------------------------------------------------------------------------------------


def held_page(knowledge: Knowledge, width: int) -> list[Line]:
    """How first causes, estimates, repairs and probabilities held."""
    drawn = reliability_lines(knowledge.held.reliability, width)
    return [*held_lines(knowledge.held, width), *([BLANK, *drawn] if drawn else [])]


def leads_page(knowledge: Knowledge, width: int) -> list[Line]:
    """How long parts take, and who takes longer of late."""
    if not knowledge.leads:
        return said_lines("no part ordered and received in the last two years", width, "soft")
    drawn = lead_lines(knowledge.leads, width)
    return [*([*drawn, BLANK] if drawn else []), *leads_lines(knowledge.leads, knowledge.slower, width)]


def service_page(knowledge: Knowledge, names: Mapping[str, str], state: ShopState, width: int) -> list[Line]:
    """Whom to ring with the phone number and what is due, then every point that is due, hidden ones first."""
    service = knowledge.bulk.service
    rows = [heading("to ring", width)]
    for call in calls_of(knowledge, state)[:_RUNG]:
        rows += call_lines(call, state, width)
        rows += each_line((_point(due, names) for due in call.dues), width, "soft")
    rows += [] if len(rows) > 1 else said_lines("nobody: nothing that was ever noted falls due", width, "good")
    rows += [BLANK, heading("due within four weeks, hidden points first", width)]
    return [*rows, *dues_lines(service, names, width)]


#: So many customers are named to be rung.
_RUNG = 30


def call_lines(call: Call, state: ShopState, width: int) -> list[Line]:
    """Whom to ring, with the phone number and what is due."""
    who = state.customers.get(call.customer)
    phone = who.phone if who and who.phone else "no phone kept"
    return said_lines(f"{call.said}; {phone}", width)


def _point(due: ServiceDue, names: Mapping[str, str]) -> str:
    return f"{names.get(due.model, due.model)}: {due.said}"

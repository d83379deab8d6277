"""The memory in lines of text, and the same as data: what fails early, at which ages, what is due, how words held."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec

from shopboard.memory import Figure, NeverNoted, Service, ServiceDue, Slower
from shopboard.memory.figures import count

from .bench_lines import MAKER_FIRST
from .knowledge import CellPage, Held, Lead
from .lines import BLANK, Line, Role, heading, line, wrapped
from .memory_page import MemoryPage
from .memory_plots import lead_lines, reliability_lines

#: So many lines of each kind are shown at most; the rest is counted.
MOST = 12


def memory_lines(page: MemoryPage, width: int) -> list[Line]:
    """The whole page at this width."""
    when = page.at.astimezone(page.zone)
    about = page.name or "all models"
    rows = [heading(f"what this shop remembers of {about}   {when:%d %b %Y}", width)]
    due = dues_lines(page.service, page.names, width)
    blocks = [
        _block("failing early", _early(page, width), width),
        _block("failure ages", _ages(page, width), width),
        _block("service due within four weeks, hidden points first", due, width),
        _block("to ring", each_line((call.said for call in page.calls), width), width),
        _block("lead times", [*leads_lines(page.leads, page.slower, width), *lead_lines(page.leads, width)], width),
        _block("how our words held", [*held_lines(page.held, width), *_diagram(page.held, width)], width),
        _block("left out", each_line(page.left_out, width, "soft"), width),
    ]
    for block in blocks:
        if block:
            rows += [BLANK, *block]
    return [*rows, BLANK, *wrapped(MAKER_FIRST, width, "soft")]


def _diagram(held: Held, width: int) -> list[Line]:
    return reliability_lines(held.reliability, width)


def _block(title: str, rows: Sequence[Line], width: int) -> list[Line]:
    return [heading(title, width), *rows] if rows else []


def each_line(texts: Iterable[str], width: int, role: Role = "") -> list[Line]:
    """Sentences, the first MOST of them, and how many more."""
    every = list(texts)
    rows = [row for text in every[:MOST] for row in said_lines(text, width, role)]
    if len(every) > MOST:
        rows += said_lines(f"and {len(every) - MOST} more", width, "soft")
    return rows


def said_lines(text: str, width: int, role: Role = "", mark: str = "") -> list[Line]:
    """A sentence under a mark that says what it is, without colour too."""
    rows = wrapped(text, width - 2, role, indent=" " * len(mark))
    first = f"  {mark}{rows[0].text[len(mark) :]}" if rows else ""
    return [line(None, (first, role)), *(line(None, ("  " + row.text, role)) for row in rows[1:])]


def _early(page: MemoryPage, width: int) -> list[Line]:
    rows: list[Line] = []
    for warning in page.early:
        role: Role = "late" if warning.word == "act" else "wait"
        model = "" if page.model else f"{page.names.get(warning.early.model, warning.early.model)}: "
        rows += said_lines(model + warning.said, width, role, mark=f"{warning.word:<6}")
        rows += said_lines(warning.look_said, width, "soft", mark=" " * 6)
    if not rows:
        rows = said_lines("no model fails earlier than the others, as far as can be told", width, "good")
    if page.many_early > len(page.early):
        rows += said_lines(f"and {page.many_early - len(page.early)} more", width, "soft")
    flagged = {warning.early.component for warning in page.early}
    others = [each for each in page.of_model if each.component not in flagged]
    return rows + each_line((each.said for each in others), width, "soft")


def _ages(page: MemoryPage, width: int) -> list[Line]:
    rows: list[Line] = []
    for each in page.components:
        rows += said_lines(f"{each.name} ({each.where}): {each.ageing.said}", width)
        for more in (each.ageing.half, each.repeats):
            if more is not None and more.value is not None:
                rows += said_lines(more.said, width, "soft", mark="  ")
    return rows or said_lines("no failure with a known age yet", width, "soft")


def dues_lines(service: Service, names: Mapping[str, str], width: int) -> list[Line]:
    """The points that are due, hidden ones first, and how many more; then those never noted."""
    rows = [row for due in service.dues[:MOST] for row in _due(names, due, width)]
    if service.many > MOST:
        rows += said_lines(f"and {service.many - MOST:,} more", width, "soft")
    rows = rows or said_lines("nothing that was ever noted falls due", width, "good")
    return rows + _never_noted(service.never_noted, width)


def _due(names: Mapping[str, str], due: ServiceDue, width: int) -> list[Line]:
    where = "hidden" if due.hidden else "open"
    said = f"machine {due.machine}, {names.get(due.model, due.model)}: {due.said}"
    return said_lines(said, width, "late" if due.overdue else "", f"{where:<8}")


def _never_noted(never: NeverNoted, width: int) -> list[Line]:
    """Points past their interval that nobody ever noted: the customer may have done them, so they are to be asked."""
    points, machines, hidden = never
    if not points:
        return []
    said = f"{count(points, 'point')} on {count(machines, 'machine')} never noted as done here, {hidden} behind covers"
    return said_lines(f"{said}: ask when they come in, and note it", width, "soft")


def leads_lines(leads: Sequence[Lead], slower: Sequence[Slower], width: int) -> list[Line]:
    """Suppliers getting slower, then the day by which four in five of each kind of part are in."""
    rows = each_line((each.said for each in slower), width, "wait")
    for lead in leads:
        what = f"{lead.lead_class} from {lead.supplier}" if lead.lead_class else lead.supplier
        rest = "" if lead.group == what else f", as {lead.group}"
        rows += said_lines(f"{what}: {lead.most.said}{rest}", width)
    return rows


def held_lines(held: Held, width: int) -> list[Line]:
    """How first causes, minutes, repairs and probabilities held, in sentences."""
    rows = each_line((figure.said for figure in (held.first_right, held.minutes, held.came_back)), width)
    rows += said_lines(held.reliability.said, width)
    usual = held.came_back.value or 0.0
    # One that came back may be anything; the others are many, and one of them always looks the worst
    worse = [each.share.said for each in held.by_cause if each.back > 1 and (each.share.low or 0.0) > usual]
    rows += each_line((f"comes back more than others: {text}" for text in worse), width, "wait")
    rest = f"diagnosis by the last {count(held.jobs, 'closed job')}, comebacks by those of two years"
    if held.jobs < 2:
        rest = f"diagnosis by {count(held.jobs, 'closed job')}, comebacks by those of two years"
    return [*rows, *said_lines(rest, width, "soft")]


def memory_data(page: MemoryPage) -> dict[str, Any]:
    """What `memory --json` prints. Every figure is an object with `said` (the sentence), `value`, `low`, `high` (null
    where nothing can be said), `unit` and `level` (of the band).

    - `at`: the moment (ISO 8601); `model`: the id of the model asked for, or null
    - `early`: models that fail early: `word` (act, watch), `component`, `model`, `failures`, `expected`, `machines`,
      `before` (hours by which all failed), `times` (figure: how many times as often as elsewhere), `said`, `looks`
      (checks with minutes and covers)
    - `of_model`: the model's other components with a failure, as in `early`; empty without a model
    - `ages`: components with `failures`, `lives`, `verdict`, `shape`, `b10`, `half` (figures or null), `repeats`
      (figure), `curve` (steps of the share still good: `at`, `good`, `low`, `high`, `at_risk`), `said`, `where`
    - `due`: service points (the first 200, on machines seen within two years): `day`, `low`, `high` (dates or null),
      `hidden`, `covers`, `overdue`, `used` (share of the interval used up; 1: due), `said`; `never_noted`: points past
      their interval and never noted: `points`, `machines`, `hidden` (counts)
    - `calls`: customers to ring, with `day` and `said`
    - `lead_times`: by `supplier` and `lead_class`, the figures `half` and `most` (half, four in five are in by then)
    - `slower`: suppliers getting slower; `held`: `first_right`, `minutes`, `comebacks` (figures), `by_cause`,
      `reliability`; `left_out`: sentences
    """
    early = [{"word": w.word, **_plain(w.early), "looks": _plain(w.looks)} for w in page.early]
    return {
        "at": page.at,
        "model": page.model or None,
        "early": early,
        "of_model": _plain(page.of_model),
        "ages": [_component(each) for each in page.components],
        "due": [{**_plain(due), "hidden": due.hidden} for due in page.service.dues],
        "never_noted": page.service.never_noted._asdict(),
        "calls": [{"customer": call.customer, "day": call.day, "said": call.said} for call in page.calls],
        "lead_times": [
            {
                "supplier": lead.supplier,
                "lead_class": lead.lead_class,
                "received": lead.received,
                "half": _figure(lead.half),
                "most": _figure(lead.most),
            }
            for lead in page.leads
        ],
        "slower": _plain(page.slower),
        "held": {
            "first_right": _figure(page.held.first_right),
            "minutes": _figure(page.held.minutes),
            "comebacks": _figure(page.held.came_back),
            "by_cause": _plain(page.held.by_cause),
            "reliability": _plain(page.held.reliability),
        },
        "left_out": list(page.left_out),
    }


def _component(each: CellPage) -> dict[str, Any]:
    ageing = each.ageing
    return {
        "component": each.component,
        "name": each.name,
        "where": each.where,
        "failures": ageing.failures,
        "lives": ageing.lives,
        "verdict": ageing.verdict,
        "said": ageing.said,
        "shape": _figure(ageing.shape),
        "b10": _figure(ageing.b10),
        "half": _figure(ageing.half),
        "repeats": _figure(each.repeats),
        "curve": [_plain(step) for step in ageing.curve.steps],
    }


def _figure(figure: Figure | None) -> Any:
    return None if figure is None else _plain(figure)


def _plain(record: Any) -> Any:
    """The record as plain values, infinities as null."""
    return msgspec.json.decode(msgspec.json.encode(record))

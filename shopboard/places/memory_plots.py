"""The memory's plots in lines of text: shares still good by age with band, how probabilities held, waits for parts.

They read without colour: the curve is a line, its band dots, a mark where parts were last seen unfailed.
"""

from __future__ import annotations

from collections.abc import Sequence

from shopboard.memory import Reliability
from shopboard.memory.figures import per_cent, rounded
from shopboard.memory.kaplan_meier import Curve

from .knowledge import Lead
from .lines import Line, Role, Span, cell, line
from .spectrum_lines import axis_lines

#: Three heights within a row.
_THIRDS = "▁━▔"
_BAND, _LEFT = "·", "╋"
#: Room for the numbers at the left of a plot.
_SIDE = 6


def curve_lines(curve: Curve, width: int, height: int = 10, axis: str = "h") -> list[Line]:
    """Shares still good by age: the curve, its band of dots, a cross where lives were last seen unfailed; empty where
    there is no failure or no room."""
    room = width - _SIDE
    if not curve.steps or room < 20 or curve.to <= 0:
        return []
    at = [(column + 0.5) / room * curve.to for column in range(room)]
    left = {min(room - 1, int(age / curve.to * room)) for age in curve.unfailed}
    heights = [curve.good(age) for age in at]
    bands = [curve.band(age) for age in at]
    title = f"{'':>{_SIDE}}share still good, with its {per_cent(curve.level)} band"
    rows = [line(None, (cell(title, width), "soft"))]
    for row in range(height):
        spans = [_cell(heights[c], bands[c], row, height, c in left) for c in range(room)]
        rows.append(Line(None, (Span(f"{_scale(row, height):>5} ", "soft"), *_joined(spans))))
    rows += _shifted(axis_lines(curve.to, axis, room))
    legend = f"{'':>{_SIDE}}{_THIRDS[1]} share  {_BAND} band  {_LEFT} some last seen unfailed"
    return [*rows, line(None, (cell(legend, width), "soft"))]


def _cell(good: float, band: tuple[float, float], row: int, height: int, left: bool) -> Span:
    """One place of the plot: row 0 is the topmost, whose upper edge is 100 %."""
    above, below = 1 - row / height, 1 - (row + 1) / height
    if below < good <= above or (good <= 0 and row == height - 1):
        third = min(2, int(max(0.0, good - below) * height * 3))
        return Span(_LEFT if left else _THIRDS[third], "mark" if left else "bar")
    low, high = band
    return Span(_BAND, "soft") if low < above and high > below else Span(" ")


def _joined(spans: Sequence[Span]) -> list[Span]:
    found: list[Span] = []
    for span in spans:
        if found and found[-1].role == span.role:
            found[-1] = Span(found[-1].text + span.text, span.role)
        else:
            found.append(span)
    return found


def _scale(row: int, height: int) -> str:
    """The share at a row's upper edge, at every other row."""
    return f"{100 * (1 - row / height):.0f} %" if row % 2 == 0 else ""


def _shifted(rows: Sequence[Line]) -> list[Line]:
    return [Line(row.key, (Span(" " * _SIDE), *row.spans)) for row in rows]


def span_bar(low: float, value: float, high: float, width: int, also: float | None = None) -> str:
    """A band from `low` to `high` with its middle, all as shares 0 to 1 of `width`; `also` is marked beside.

    >>> span_bar(0.2, 0.5, 0.8, 10), span_bar(0.2, 0.5, 0.8, 10, 0.9)
    ('  ├──●──┤ ', '  ├──●──┤o')
    """

    def place(share: float) -> int:
        return min(width - 1, max(0, int(share * width + 1e-9)))

    first, last = place(low), place(high)
    row = [" "] * width
    row[first : last + 1] = ["├", *"─" * (last - first - 1), "┤"] if last > first else ["│"]
    row[place(value)] = "●"
    if also is not None:
        row[place(also)] = "◉" if place(also) == place(value) else "o"
    return "".join(row)


def reliability_lines(held: Reliability, width: int) -> list[Line]:
    """How probabilities held: for each group what was said (o), what was true (●) with its band, 0 to 100 %."""
    room = width - 30
    if not held.groups or room < 20:
        return []
    rows = [line(None, (cell(f"{'said':>11} {'0 %':<{room - 5}}100 % {'true':>10} {'of':>6}", width), "soft"))]
    for group in held.groups:
        true = group.true
        drawn = span_bar(true.low or 0.0, true.value or 0.0, 1.0 if true.high is None else true.high, room, group.said)
        said, share = per_cent(group.said), per_cent(true.value or 0.0)
        role: Role = "" if (true.low or 0.0) <= group.said <= (1.0 if true.high is None else true.high) else "wait"
        figures = cell(f" {share:>10} {group.many:>6,}", width - 12 - room)
        rows.append(line(None, f"{said:>11} ", (drawn, role or "bar"), figures))
    return [*rows, line(None, (cell("  o said  ● true, with its band", width), "soft"))]


def lead_lines(leads: Sequence[Lead], width: int) -> list[Line]:
    """Waits for parts by supplier and class: half in (○) and four in five in (● with its band), along days."""
    shown = [lead for lead in leads if lead.most.value is not None]
    name = min(24, max((len(_of(lead)) for lead in shown), default=0) + 1)
    room = width - name - 16
    if not shown or room < 16:
        return []
    end = max(lead.most.high or lead.most.value or 0.0 for lead in shown) * 1.02 or 1.0
    rows = [line(None, (cell(f"  {'':<{name}}{'0':<{room - 8}}{rounded(end)} days  half   4/5", width), "soft"))]
    for lead in shown:
        value, half = lead.most.value or 0.0, lead.half.value
        low, high = lead.most.low or value, lead.most.high or end
        drawn = span_bar(low / end, value / end, high / end, room, None if half is None else half / end)
        days = f" {_days(half):>5} {_days(value):>5}"
        rows.append(line(None, "  " + cell(_of(lead), name), (drawn.replace("o", "○"), "bar"), days))
    return [*rows, line(None, (cell("  ○ half are in  ● four in five are in, with its band", width), "soft"))]


def _days(value: float | None) -> str:
    """Whole days, as they are promised."""
    if value is None:
        return "–"
    return f"{value:.0f}" if value >= 0.5 else "<1"


def _of(lead: Lead) -> str:
    return f"{lead.supplier} {lead.lead_class}".strip()

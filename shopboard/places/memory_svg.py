"""The memory's plots as one SVG picture: survival curves with band and marks, how probabilities held, lead times.

Written plainly, text as text: it scales, prints, and a reader can search it. People's text is escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from xml.sax.saxutils import escape, quoteattr

from shopboard.memory import Reliability
from shopboard.memory.figures import per_cent, rounded
from shopboard.memory.kaplan_meier import Curve
from shopboard.records import visible

from .knowledge import CellPage, Lead
from .memory_page import MemoryPage

#: Width of the picture, and of a plot's frame within it, in pixels; rows of text are LINE apart.
WIDTH, LEFT, RIGHT, LINE = 760, 60, 24, 18
CURVE, GROUP, SPACE = 200, 24, 46
#: Letters of a small sentence that fit on a line.
CHARS = 110


class Picture:
    """Elements of a picture, from the top down; `y` is where the next one goes."""

    def __init__(self) -> None:
        self.y = 12.0
        self._parts: list[str] = []

    def text(self, x: float, y: float, words: str, *, size: int = 12, anchor: str = "start") -> None:
        """A line of text at its baseline."""
        shown = escape(visible(words))
        self._parts.append(f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}">{shown}</text>')

    def heading(self, words: str) -> None:
        """A heading, and room under it."""
        self.y += LINE + 6
        self.text(LEFT, self.y, words, size=15)
        self.y += 10

    def says(self, words: str) -> None:
        """A sentence over as many lines as it needs."""
        for row in wrap(visible(words), CHARS):
            self.text(LEFT, self.y, row, size=11)
            self.y += LINE - 3

    def line(self, x1: float, y1: float, x2: float, y2: float, style: str = "axis") -> None:
        """A straight line."""
        self._parts.append(f'<line class="{style}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>')

    def path(self, points: Sequence[tuple[float, float]], style: str) -> None:
        """A line through points, or an area where the style fills."""
        drawn = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        kind = "polygon" if style == "band" else "polyline"
        self._parts.append(f'<{kind} class="{style}" points="{drawn}"/>')

    def dot(self, x: float, y: float, style: str) -> None:
        """A dot."""
        self._parts.append(f'<circle class="{style}" cx="{x:.1f}" cy="{y:.1f}" r="4"/>')

    def done(self, title: str) -> str:
        """The picture, as a file."""
        height = self.y + 20
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height:.0f}" '
            f'viewBox="0 0 {WIDTH} {height:.0f}" font-family="sans-serif" role="img" aria-label={quoteattr(title)}>'
        )
        sheet = (
            "<style>.axis{stroke:#555;stroke-width:1}.grid{stroke:#ddd}.curve{fill:none;stroke:#000;stroke-width:2}"
            ".band{fill:#999;fill-opacity:.3}.span{stroke:#000;stroke-width:2}.true{fill:#000}"
            ".said{fill:#fff;stroke:#000;stroke-width:2}</style>"
        )
        title_words = f"<title>{escape(title)}</title>"
        ground = f'<rect width="{WIDTH}" height="{height:.0f}" fill="#fff"/>'
        return "\n".join([head, title_words, sheet, ground, *self._parts, "</svg>"]) + "\n"


def svg_of(page: MemoryPage) -> str:
    """The plots of a memory page as an SVG file's text."""
    title = visible(
        f"what this shop remembers of {page.name or 'all models'}, {page.at.astimezone(page.zone):%d %b %Y}"
    )
    picture = Picture()
    picture.y += LINE
    picture.text(LEFT, picture.y, title, size=18)
    for each in page.components:
        _curve(picture, each)
    _reliability(picture, page.held.reliability)
    _leads(picture, page.leads)
    return picture.done(title)


def _curve(picture: Picture, page: CellPage) -> None:
    curve = page.ageing.curve
    if not curve.steps or curve.to <= 0:
        return
    picture.heading(f"{page.name} ({page.where}): share still good by age")
    top, room = picture.y, WIDTH - LEFT - RIGHT

    def at(age: float, share: float) -> tuple[float, float]:
        return LEFT + age / curve.to * room, top + (1 - share) * CURVE

    _frame(picture, top, CURVE, curve.to, "h")
    low, high = _steps(curve, "low"), _steps(curve, "high")
    picture.path([at(*point) for point in (*low, *reversed(high))], "band")
    picture.path([at(*point) for point in _steps(curve, "good")], "curve")
    for age in curve.unfailed:
        x, y = at(age, curve.good(age))
        picture.line(x, y - 5, x, y + 5)
    picture.y = top + CURVE + SPACE
    picture.says(page.ageing.said)


def _steps(curve: Curve, side: str) -> list[tuple[float, float]]:
    """The corners of a stair of the curve: its `good`, `low` or `high`."""
    points, last = [(0.0, 1.0)], 1.0
    for step in curve.steps:
        points += [(step.at, last), (step.at, float(getattr(step, side)))]
        last = float(getattr(step, side))
    return [*points, (curve.to, last)]


def _frame(picture: Picture, top: float, height: float, end: float, unit: str) -> None:
    """Axes with shares on the left and five ages below."""
    room = WIDTH - LEFT - RIGHT
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = top + (1 - share) * height
        picture.line(LEFT, y, WIDTH - RIGHT, y, "grid" if share else "axis")
        picture.text(LEFT - 6, y + 4, f"{share:.0%}".replace("%", " %"), size=11, anchor="end")
    _below(picture, top + height, end, unit, room)


def _below(picture: Picture, y: float, end: float, unit: str, room: float) -> None:
    for part in range(6):
        x = LEFT + part / 5 * room
        picture.line(x, y, x, y + 5)
        picture.text(x, y + 18, f"{rounded(end * part / 5)}{f' {unit}' if part == 5 else ''}", size=11, anchor="middle")


def _reliability(picture: Picture, held: Reliability) -> None:
    if not held.groups:
        return
    picture.heading("how probabilities held: said (open dot), true (full dot) with its band")
    room = WIDTH - LEFT - RIGHT - 120
    for group in held.groups:
        picture.y += GROUP
        low, high = group.true.low or 0.0, 1.0 if group.true.high is None else group.true.high
        picture.line(LEFT + low * room, picture.y, LEFT + high * room, picture.y, "span")
        picture.dot(LEFT + (group.true.value or 0.0) * room, picture.y, "true")
        picture.dot(LEFT + group.said * room, picture.y, "said")
        picture.text(LEFT - 6, picture.y + 4, per_cent(group.said), size=11, anchor="end")
        words = f"true {per_cent(group.true.value or 0.0)} of {group.many}"
        picture.text(WIDTH - RIGHT, picture.y + 4, words, size=11, anchor="end")
    picture.y += SPACE / 2
    picture.says(held.said)


def _leads(picture: Picture, leads: Sequence[Lead]) -> None:
    shown = [lead for lead in leads if lead.most.value is not None]
    if not shown:
        return
    picture.heading("days until parts are in: half (open dot), four in five (full dot) with its band")
    end = max(lead.most.high or lead.most.value or 1.0 for lead in shown)
    left, room = LEFT + 140, WIDTH - LEFT - RIGHT - 140
    for lead in shown:
        picture.y += GROUP
        value = lead.most.value or 0.0
        low, high = lead.most.low or value, lead.most.high or end
        picture.line(left + low / end * room, picture.y, left + high / end * room, picture.y, "span")
        picture.dot(left + value / end * room, picture.y, "true")
        if lead.half.value is not None:
            picture.dot(left + lead.half.value / end * room, picture.y, "said")
        picture.text(left - 6, picture.y + 4, f"{lead.supplier} {lead.lead_class}".strip(), size=11, anchor="end")
    picture.y += GROUP
    picture.text(left, picture.y, "0", size=11, anchor="middle")
    picture.text(left + room, picture.y, f"{rounded(end)} days", size=11, anchor="end")

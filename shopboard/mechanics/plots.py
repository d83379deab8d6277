"""A spectrum as an SVG picture, its peaks labelled by source. Text only; nothing is drawn on a screen here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from xml.sax.saxutils import escape

_WIDTH, _HEIGHT, _LEFT, _BOTTOM, _TOP = 960, 420, 60, 40, 120
_STYLE = "font-family='sans-serif' font-size='12'"


def spectrum_svg(
    points: Sequence[tuple[float, float]], labels: Sequence[tuple[float, float, str]], axis: str = "Hz"
) -> str:
    """The picture of (frequency, amplitude) points with (frequency, amplitude, text) labels; `axis` names the unit.

    Labels are text, never markup. Raises ValueError without points.

    >>> spectrum_svg([(0, 0), (10, 2), (20, 0)], [(10, 2, "shaft <1×>")]).count("&lt;1×&gt;")
    1
    """
    if not points:
        raise ValueError("there is nothing to draw")
    right, top = max(x for x, _ in points) or 1.0, max(y for _, y in points) or 1.0

    def place(x: float, y: float) -> tuple[float, float]:
        across = _LEFT + (_WIDTH - _LEFT - 20) * x / right
        return round(across, 1), round(_HEIGHT - _BOTTOM - (_HEIGHT - _BOTTOM - _TOP) * min(y / top, 1.0), 1)

    line = " ".join("{},{}".format(*place(x, y)) for x, y in points)
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {_WIDTH} {_HEIGHT}' {_STYLE}>",
        f"<rect width='{_WIDTH}' height='{_HEIGHT}' fill='white'/>",
        *_scale(right, axis, place),
        f"<polyline points='{line}' fill='none' stroke='#1b4f72'/>",
        *(_label(place(x, y), text) for x, y, text in labels),
        "</svg>\n",
    ]
    return "\n".join(parts)


def _scale(right: float, axis: str, place: Callable[[float, float], tuple[float, float]]) -> list[str]:
    parts = []
    for i in range(11):
        x, y = place(right * i / 10, 0.0)
        parts.append(f"<line x1='{x}' y1='{y}' x2='{x}' y2='{y + 5}' stroke='black'/>")
        parts.append(f"<text x='{x}' y='{y + 18}' text-anchor='middle'>{right * i / 10:.4g}</text>")
    x, y = place(right, 0.0)
    parts.append(f"<line x1='{_LEFT}' y1='{y}' x2='{x}' y2='{y}' stroke='black'/>")
    parts.append(f"<text x='{x}' y='{y + 34}' text-anchor='end'>{escape(axis)}</text>")
    return parts


def _label(at: tuple[float, float], text: str) -> str:
    x, y = at
    return (
        f"<circle cx='{x}' cy='{y}' r='3' fill='#b03a2e'/>"
        f"<text x='{x}' y='{y - 8}' transform='rotate(-40 {x} {y - 8})'>{escape(text)}</text>"
    )

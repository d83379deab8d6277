"""Lines of a screen as plain data: what the places draw and `glance` prints, free of any terminal library.

The one gateway for people's text: `cell` makes it visible (never markup, never acting) and fits it to its width.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

from rich.cells import cell_len, set_cell_size

from shopboard.records import visible

#: What a span of text is, never how it looks; styles/board.tcss gives each a look that also works without colour.
Role = Literal["", "strong", "soft", "late", "wait", "good", "mark", "bar", "cursor"]


class Span(NamedTuple):
    """A piece of a line."""

    text: str
    role: Role = ""


class Line(NamedTuple):
    """One line: `key` names what it stands for (None: a heading or blank that the cursor passes over)."""

    key: str | None
    spans: tuple[Span, ...]

    @property
    def text(self) -> str:
        """The line as plain text, trailing blanks cut."""
        return "".join(span.text for span in self.spans).rstrip()


def cell(text: str, width: int, align: Literal["<", ">"] = "<") -> str:
    """People's text as exactly `width` terminal cells: made visible, cut with an ellipsis, padded.

    >>> cell("slip spline", 8), cell("62", 4, ">")
    ('slip sp…', '  62')
    """
    shown = visible(text)
    room = cell_len(shown)
    if room > width:
        return "" if width <= 0 else set_cell_size(set_cell_size(shown, width - 1) + "…", width)
    pad = " " * (width - room)
    return pad + shown if align == ">" else shown + pad


def line(key: str | None, *spans: Span | tuple[str, Role] | str) -> Line:
    """A line from spans, given as Span, (text, role) or plain text."""
    return Line(key, tuple(Span(s) if isinstance(s, str) else Span(*s) for s in spans))


def heading(text: str, width: int = 0) -> Line:
    """A heading line over a group of rows."""
    return line(None, (cell(text, width) if width else visible(text), "strong"))


BLANK = Line(None, ())


#: Stands for the blank before a per cent sign while lines are broken: the number and its sign stay together.
_HELD = "\x00"


def wrapped(text: str, width: int, role: Role = "", indent: str = "") -> list[Line]:
    """People's text over as many lines as it needs at this width, broken at blanks where there are any."""
    result: list[Line] = []
    for paragraph in visible(text, lines=True).split("\n"):
        row = ""
        for word in paragraph.replace(" %", _HELD).split(" "):
            for piece in _pieces(word.replace(_HELD, " %"), max(1, width - len(indent))):
                if row and cell_len(row) + 1 + cell_len(piece) > width - len(indent):
                    result.append(line(None, (indent + row, role)))
                    row = piece
                else:
                    row = f"{row} {piece}" if row else piece
        result.append(line(None, (indent + row, role)))
    return result


def notice_lines(text: str, role: Role, width: int, news: str = "", most: int = 3) -> list[Line]:
    """A notice over at most `most` lines, what does not fit ending in an ellipsis; under it, in one line, news from
    another terminal, which so never hides what the person here was told."""
    if news:
        return [*notice_lines(text, role, width, most=most - 1), line(None, (cell(news, width), "soft"))]
    rows = wrapped(visible(text), width, role) if text else []
    if len(rows) <= most:
        return rows
    rest = " ".join(row.text for row in rows[most - 1 :])
    return [*rows[: most - 1], line(None, (cell(rest, width), role))]


def _pieces(word: str, width: int) -> Iterable[str]:
    while cell_len(word) > width:
        count = next(n for n in range(min(len(word), width), 0, -1) if n == 1 or cell_len(word[:n]) <= width)
        yield word[:count]
        word = word[count:]
    yield word


def plain(lines: Sequence[Line]) -> str:
    """The lines as plain text, as `glance` prints them."""
    return "\n".join(row.text for row in lines)


_EIGHTHS = " ▏▎▍▌▋▊▉"


def bar(share: float, width: int) -> str:
    """A bar for a share 0 … 1, in eighths of a cell, padded to `width`.

    >>> bar(0.62, 10)
    '██████▎   '
    """
    eighths = round(max(0.0, min(1.0, share)) * width * 8)
    full, rest = divmod(eighths, 8)
    return ("█" * full + (_EIGHTHS[rest] if rest else "")).ljust(width)


def share(probability: float) -> str:
    """A probability as people read it: whole per cent, "<1" and ">99" at the ends.

    >>> share(0.618), share(0.002), share(0.999)
    ('62 %', '<1 %', '>99 %')
    """
    if 0 < probability < 0.01:
        return "<1 %"
    if 0.99 < probability < 1:
        return ">99 %"
    return f"{probability:.0%}".replace("%", " %")

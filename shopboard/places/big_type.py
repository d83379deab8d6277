"""Digits and a few signs in large type, for a screen on the wall: drawn with blocks, so any terminal shows them."""

from __future__ import annotations

#: Five rows of three dots, top first, a dot an x.
_GLYPHS = {
    "0": "xxx x.x x.x x.x xxx",
    "1": ".x. xx. .x. .x. xxx",
    "2": "xxx ..x xxx x.. xxx",
    "3": "xxx ..x .xx ..x xxx",
    "4": "x.x x.x xxx ..x ..x",
    "5": "xxx x.. xxx ..x xxx",
    "6": "xxx x.. xxx x.x xxx",
    "7": "xxx ..x .x. .x. .x.",
    "8": "xxx x.x xxx x.x xxx",
    "9": "xxx x.x xxx ..x xxx",
    "T": "xxx .x. .x. .x. .x.",
    "-": "... ... xxx ... ...",
    " ": "... ... ... ... ...",
}
_HALVES = {"..": " ", "x.": "▀", ".x": "▄", "xx": "█"}

#: Rows that large type takes, by size.
ROWS = {1: 3, 2: 5}


def big(text: str, size: int = 1) -> list[str]:
    """Text of digits, "T", "-" and blanks as rows of blocks: three rows at size 1, five (twice as wide) at size 2.

    >>> print(*big("T-4"), sep="|")
    ▀█▀     █ █| █  ▀▀▀ ▀▀█| ▀        ▀
    """
    glyphs = [_GLYPHS[char].split() for char in text]
    dots = [".".join(glyph[row] for glyph in glyphs) for row in range(5)]
    if size == 2:
        return ["".join("██" if dot == "x" else "  " for dot in row) for row in dots]
    dots.append("." * len(dots[0]))
    return ["".join(_HALVES[a + b] for a, b in zip(dots[n], dots[n + 1], strict=True)) for n in (0, 2, 4)]

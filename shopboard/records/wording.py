"""Text as people typed it, made safe to look at: nothing vanishes and nothing acts."""

from __future__ import annotations

import unicodedata

# Characters that reorder or hide their neighbours: shown as a code, never obeyed.
_REORDERING = {*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C}


def _shown(char: str) -> str:
    code = ord(char)
    if code < 0x20:
        return chr(0x2400 + code)
    if code == 0x7F:
        return "\u2421"
    if code in _REORDERING or unicodedata.category(char) in ("Cc", "Cs", "Co", "Cn") or code in (0x2028, 0x2029):
        return f"<U+{code:04X}>"
    return char


def visible(text: str, *, lines: bool = False) -> str:
    """The text with every control, escape and reordering character shown as a mark instead of acting.

    With `lines`, line ends stay line ends; otherwise they become a mark too, so the result is one line.

    >>> visible("clunk[/b]\\x1b[31m")
    'clunk[/b]␛[31m'
    """
    if text.isascii() and text.isprintable():
        return text
    if lines:
        return "\n".join(visible(line) for line in text.replace("\r\n", "\n").split("\n"))
    return "".join(map(_shown, text))

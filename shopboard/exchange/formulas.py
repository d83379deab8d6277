"""Text that a spreadsheet program would take for a formula, made harmless going out and whole again coming in."""

from __future__ import annotations

import re

#: A leading sign that starts a formula somewhere, also behind blanks or our own mark; tab and line ends count too.
_ACTS = re.compile(r"'*\s*[=+\-@＝＋－＠]|'*[\t\r\n]")
_DEFUSED = re.compile(r"'(?:'*\s*[=+\-@＝＋－＠]|'*[\t\r\n])")


def defused(text: str) -> str:
    """The text so that no spreadsheet program computes it: an apostrophe before what would act.

    >>> defused("=1+1"), defused("+43 660 1"), defused("plain"), defused("'=1")
    ("'=1+1", "'+43 660 1", 'plain', "''=1")
    """
    return f"'{text}" if _ACTS.match(text) else text


def as_typed(text: str) -> str:
    """What `defused` was given.

    >>> as_typed(defused("+43 660 1")), as_typed("'tis"), as_typed(defused("'=1"))
    ('+43 660 1', "'tis", "'=1")
    """
    return text[1:] if _DEFUSED.match(text) else text

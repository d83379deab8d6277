"""Triage: the trouble book, what was seen on one machine, what is likely wrong, and which check to make next.

Pure: texts and evidence come in, rankings and advice go out. `shopboard.trouble.book` tells the format of the book.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from .book import Book, Cause, Caution, Check, Correction, Cover, Outcome, Service, Symptom
from .fields import BookError, BookErrors
from .learning import Learned, Said, learn, reweighted
from .loader import load_book
from .tally import ClosedResult, Tally
from .wording import suggest_symptoms

if TYPE_CHECKING:
    from .evidence import Evidence, SoftReading, soft_reading
    from .next_check import Advice, NextCheck, NextRepair, advise, next_checks
    from .ranking import PairOf, Ranked, Ranking, Weight, rank
    from .tree import Branch, TreeNode, triage_tree

__all__ = [
    "Advice",
    "Book",
    "BookError",
    "BookErrors",
    "Branch",
    "Cause",
    "Caution",
    "Check",
    "ClosedResult",
    "Correction",
    "Cover",
    "Evidence",
    "Learned",
    "NextCheck",
    "NextRepair",
    "Outcome",
    "PairOf",
    "Ranked",
    "Ranking",
    "Said",
    "Service",
    "SoftReading",
    "Symptom",
    "Tally",
    "TreeNode",
    "Weight",
    "advise",
    "learn",
    "load_book",
    "next_checks",
    "rank",
    "reweighted",
    "soft_reading",
    "suggest_symptoms",
    "triage_tree",
]

#: What reckons with numpy, by module: loaded when it is first asked for, since the first screen needs none of it.
_RECKONING = {
    "evidence": ("Evidence", "SoftReading", "soft_reading"),
    "next_check": ("Advice", "NextCheck", "NextRepair", "advise", "next_checks"),
    "ranking": ("PairOf", "Ranked", "Ranking", "Weight", "rank"),
    "tree": ("Branch", "TreeNode", "triage_tree"),
}


def __getattr__(name: str) -> object:
    for module, names in _RECKONING.items():
        if name in names:
            found: object = getattr(import_module(f"{__name__}.{module}"), name)
            globals()[name] = found
            return found
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

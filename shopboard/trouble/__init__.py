"""Triage: the trouble book, what was seen on one machine, what is likely wrong, and which check to make next.

Pure: texts and evidence come in, rankings and advice go out. `shopboard.trouble.book` tells the format of the book.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopboard.lazily import lazily

from .book import Book, Cause, Caution, Check, Correction, Cover, Outcome, Service, Symptom

if TYPE_CHECKING:
    from .evidence import Evidence, SoftReading, soft_reading
    from .fields import BookError, BookErrors
    from .learning import Learned, Said, learn, reweighted
    from .loader import load_book
    from .next_check import Advice, NextCheck, NextRepair, advise, next_checks
    from .ranking import PairOf, Ranked, Ranking, Weight, rank
    from .tally import ClosedResult, Tally
    from .tree import Branch, TreeNode, triage_tree
    from .wording import suggest_symptoms

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

__getattr__ = lazily(
    __name__,
    {
        "evidence": ("Evidence", "SoftReading", "soft_reading"),
        "fields": ("BookError", "BookErrors"),
        "learning": ("Learned", "Said", "learn", "reweighted"),
        "loader": ("load_book",),
        "next_check": ("Advice", "NextCheck", "NextRepair", "advise", "next_checks"),
        "ranking": ("PairOf", "Ranked", "Ranking", "Weight", "rank"),
        "tally": ("ClosedResult", "Tally"),
        "tree": ("Branch", "TreeNode", "triage_tree"),
        "wording": ("suggest_symptoms",),
    },
)

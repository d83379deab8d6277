"""Triage: the trouble book, what was seen on one machine, what is likely wrong, and which check to make next.

Pure: texts and evidence come in, rankings and advice go out. `shopboard.trouble.book` tells the format of the book.
"""

from .book import Book, Cause, Caution, Check, Correction, Cover, Outcome, Service, Symptom
from .evidence import Evidence, SoftReading, soft_reading
from .fields import BookError, BookErrors
from .learning import Learned, Said, learn
from .links import ClosedResult
from .loader import load_book
from .next_check import Advice, NextCheck, NextRepair, advise, next_checks
from .ranking import PairOf, Ranked, Ranking, Weight, rank
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
    "TreeNode",
    "Weight",
    "advise",
    "learn",
    "load_book",
    "next_checks",
    "rank",
    "soft_reading",
    "suggest_symptoms",
    "triage_tree",
]

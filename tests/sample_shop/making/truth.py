"""What a check shows when the cause is known: drawn from the trouble book's frequencies, a little clearer."""

from __future__ import annotations

from random import Random

from shopboard.trouble import Book

#: Above 1, the likelier outcome comes up more often than the book says: cards were kept of checks that told something.
CLEARER = 1.3


def outcome(book: Book, cause: str, check_id: str, rng: Random) -> str:
    """The outcome of a check on a machine with this cause ("other" for one the book does not have)."""
    check = book.checks[check_id]
    shown = book.causes[cause].answers.get(check_id, {}) if cause in book.causes else {}
    weights: dict[str, float] = {}
    unseen = 1.0
    for name, found in check.outcomes.items():
        if not found.normal:
            weights[name] = 1 - (1 - found.otherwise) * (1 - shown.get(name, 0.0))
            unseen *= 1 - weights[name]
    weights[check.normal.id] = unseen
    sharp = [weight**CLEARER for weight in weights.values()]
    return rng.choices(list(weights), sharp)[0]

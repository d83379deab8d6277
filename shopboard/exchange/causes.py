"""A cause in somebody's own words as one of the trouble book's, only where no other could be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shopboard.trouble import Book

#: Words this alike (0 to 100) mean the cause, unless another comes within `MARGIN`.
ALIKE, MARGIN = 90.0, 8.0


class Causes:
    """The causes of a book by layout, asked for in people's words; the same words are answered once."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._told: dict[tuple[str, str], str | None] = {}

    def name(self, cause: str) -> str:
        """The cause in the book's words."""
        return self._book.causes[cause].name

    def of(self, text: str, layout: str) -> str | None:
        """The id of the one cause of this layout the text can mean, or None: its id or name itself, or words so alike
        that no other comes near."""
        key = (text, str(layout))
        if key not in self._told:
            self._told[key] = self._find(text, str(layout))
        return self._told[key]

    def _find(self, text: str, layout: str) -> str | None:
        from rapidfuzz import fuzz, process, utils

        here = {
            id: cause.name for id, cause in self._book.causes.items() if layout in {str(one) for one in cause.layouts}
        }
        plain = utils.default_process(text)
        for id, name in here.items():
            if plain in (utils.default_process(id), utils.default_process(name)):
                return id
        best = process.extract(text, here, scorer=fuzz.token_sort_ratio, processor=utils.default_process, limit=2)
        if not best or best[0][1] < ALIKE or (len(best) > 1 and best[1][1] > best[0][1] - MARGIN):
            return None
        return str(best[0][2])

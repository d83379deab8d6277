"""The Counter ranks by what is learned, and lets no question change under its answer."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from aids.line_shop import NOW, shop_of
from aids.shipped_book import shipped_book

from shopboard.places.counter_form import CounterForm
from shopboard.places.lines import plain
from shopboard.trouble import Book, ClosedResult, Evidence, learn, next_checks, rank

BOOK = shipped_book()
VALUES = {"who": "Hill Vineyard", "machine": "new: Ferrow 24", "complaint": "weak", "symptoms": ("weak-drive",)}


def _learned(cause: str) -> Book:
    return learn(BOOK, [ClosedResult("in-line", (cause,), answers=(("ask-hot-cold", "same"),))] * 60, "in-line").book


def _form(*books: Book) -> CounterForm:
    form = CounterForm(shop_of(), BOOK, NOW, ZoneInfo("Europe/Berlin"))
    given = iter(books)
    form.book_for = lambda machine, layout, model: next(given)
    return form


def test_first_likely_causes_and_questions_go_by_the_learned_book() -> None:
    learned = _learned("cable-stretched")
    form = _form(learned)
    first = rank(learned, "in-line", Evidence(("weak-drive",))).causes[0]
    assert first.id == "cable-stretched" != rank(BOOK, "in-line", Evidence(("weak-drive",))).causes[0].id
    assert first.name in " ".join(plain(form.likely_lines(VALUES, 200)).split())
    wanted = [c.check for c in next_checks(learned, "in-line", Evidence(("weak-drive",)), limit=60, at="counter")]
    asked = form.questions(VALUES, 1)[0].id
    assert asked == next(id for id in wanted if BOOK.checks[id].where == "counter")


def test_what_is_learned_meanwhile_changes_nothing_while_the_form_is_open() -> None:
    form = _form(_learned("cable-stretched"), _learned("pump-worn"))
    before = form.likely_lines(VALUES, 200), form.questions(VALUES)
    assert (form.likely_lines(VALUES, 200), form.questions(VALUES)) == before
    # another machine is another book, and the first one's stays
    gear = VALUES | {"machine": "not listed"}
    form.likely_lines(gear, 200)
    assert form.likely_lines(VALUES, 200) == before[0]


def test_without_one_it_is_the_shops_own_book() -> None:
    form = CounterForm(shop_of(), BOOK, NOW, ZoneInfo("Europe/Berlin"))
    assert form.reckoned(VALUES) is BOOK

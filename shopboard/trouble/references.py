"""What entries of the book say of each other: every name must lead somewhere, and where it is wanted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set

from shopboard.estimate.labour import closure

from .book import Accessed, Book, Cause, Check, Cover
from .fields import BookError, meant

#: entry ("cause.worn-belt"), what is wrong, how to mend it
Mistake = tuple[str, str, str]


def reference_errors(
    book: Book, ids: Mapping[str, Set[str]], files: Mapping[str, str], broken: Set[str]
) -> list[BookError]:
    """Every mistake between the entries of a book.

    `ids` are all ids by kind, those of `broken` entries too, so that one mistake is not told twice.
    """
    found: list[Mistake] = [*_unknown(book, ids)]
    if not found and not broken:
        for look in (_cover_circles, _idle, _off_layout, _counter_questions, _mute_layouts):
            found += look(book)
    return [BookError(files.get(entry, "book"), entry, why, mend) for entry, why, mend in found]


def _references(book: Book) -> Iterator[tuple[str, str, str, str]]:
    """(entry, field, kind it points to, id it points to), for every reference of the book."""
    for symptom in book.symptoms.values():
        yield from ((f"symptom.{symptom.id}", "ask", "check", id) for id in symptom.ask)
    for kind, entry in _accessed(book):
        named = {id for listed in entry.covers.values() for id in listed}
        yield from ((f"{kind}.{entry.id}", "covers", "cover", id) for id in sorted(named))
        yield from ((f"{kind}.{entry.id}", "cautions", "caution", id) for id in getattr(entry, "cautions", ()))
    for check in book.checks.values():
        same = (outcome.same_as for outcome in check.outcomes.values() if outcome.same_as)
        yield from ((f"check.{check.id}", "same_as", "symptom", id) for id in same)
        yield from ((f"check.{check.id}", "unless", "symptom", id) for id in check.unless)
    for cause in book.causes.values():
        entry_name = f"cause.{cause.id}"
        yield from ((entry_name, "correction", "correction", id) for id in cause.correction)
        yield from ((entry_name, "shows", "symptom", id) for id in cause.shows)
        yield from ((entry_name, "answers", "check", id) for id in cause.answers)
    for cover in book.covers.values():
        yield from ((f"cover.{cover.id}", "under", "cover", id) for id in cover.under)
        yield from ((f"cover.{cover.id}", "ways", "cover", id) for way in cover.ways for id in way)


def _accessed(book: Book) -> Iterator[tuple[str, Accessed]]:
    yield from (("check", check) for check in book.checks.values())
    yield from (("correction", correction) for correction in book.corrections.values())
    yield from (("service", point) for point in book.service_points.values())


def _unknown(book: Book, ids: Mapping[str, Set[str]]) -> Iterator[Mistake]:
    for entry, field, kind, id in _references(book):
        if id not in ids[kind]:
            yield entry, f"{field} names {kind} {id}, which the book does not have", meant(id, ids[kind])
    for cause in book.causes.values():
        for check_id, shown in cause.answers.items():
            if check_id in book.checks:
                yield from _outcome_mistakes(cause, book.checks[check_id], shown)


def _outcome_mistakes(cause: Cause, check: Check, shown: Mapping[str, float]) -> Iterator[Mistake]:
    abnormal = [outcome.id for outcome in check.outcomes.values() if not outcome.normal]
    for id in shown:
        if id not in check.outcomes:
            yield f"cause.{cause.id}", f"check {check.id} has no outcome {id}", meant(id, abnormal)
        elif check.outcomes[id].normal:
            mend = "a normal outcome follows from the others: take it out"
            yield f"cause.{cause.id}", f"{id} is the normal outcome of check {check.id}", mend


def _cover_circles(book: Book) -> Iterator[Mistake]:
    under = {cover.id: _all_above(cover) for cover in book.covers.values()}
    told: set[str] = set()
    for cover in book.covers:
        try:
            closure([cover], under)
        except ValueError as error:
            circle = str(error).partition(": ")[2].split(" under ")
            inside = set(circle[circle.index(circle[-1]) :])
            if not inside & told:
                yield f"cover.{circle[-1]}", f"in a circle: {' under '.join(circle)}", "take one `under` out"
            told |= inside


def _all_above(cover: Cover) -> tuple[str, ...]:
    return (*cover.under, *(id for way in cover.ways for id in way))


def _idle(book: Book) -> Iterator[Mistake]:
    """Entries that say nothing: no cause shows them, or they show nothing."""
    shown = {id for cause in book.causes.values() for id in cause.shows}
    answered = {(check, id) for cause in book.causes.values() for check, told in cause.answers.items() for id in told}
    used = {id for cause in book.causes.values() for id in cause.correction}
    for cause in book.causes.values():
        if not cause.shows:
            yield f"cause.{cause.id}", "shows no symptom", "write shows, or nobody will ever look for it"
    for symptom in book.symptoms.values():
        if symptom.id not in shown:
            yield f"symptom.{symptom.id}", "no cause shows it", "name it in the shows of a cause, or take it out"
    for check in book.checks.values():
        for id, outcome in check.outcomes.items():
            if not outcome.normal and (check.id, id) not in answered:
                mend = f"name it in the answers.{check.id} of a cause, or take it out"
                yield f"check.{check.id}", f"no cause shows outcome {id}", mend
    for correction in book.corrections.values():
        if correction.id not in used:
            yield f"correction.{correction.id}", "no cause is cured by it", "name it at a cause, or take it out"


def _off_layout(book: Book) -> Iterator[Mistake]:
    """References that lead to an entry which does not hold on any layout, or not on all that need it."""
    for cause in book.causes.values():
        here = set(cause.layouts)
        for kind, table, named in (("symptom", book.symptoms, cause.shows), ("check", book.checks, cause.answers)):
            for id in named:
                if not here & set(table[id].layouts):
                    yield f"cause.{cause.id}", f"{kind} {id} holds on none of its layouts", "set the layouts of either"
        missing = here - set(book.corrections[cause.correction[0]].layouts)
        if missing:
            why = f"its usual correction does not hold on {', '.join(sorted(missing))}"
            yield f"cause.{cause.id}", why, f"add the layouts to correction {cause.correction[0]}"
    for kind, entry in _accessed(book):
        for layout, covers in entry.covers.items():
            for id in covers:
                if layout not in book.covers[id].layouts:
                    mend = "write covers by layout, or add the layout to the cover"
                    yield f"{kind}.{entry.id}", f"cover {id} is not on {layout}", mend
    for cover in book.covers.values():
        for id in _all_above(cover):
            if missing := set(cover.layouts) - set(book.covers[id].layouts):
                why = f"lies under {id}, which is not on {', '.join(sorted(missing))}"
                yield f"cover.{cover.id}", why, "set the layouts of either"


def _counter_questions(book: Book) -> Iterator[Mistake]:
    for symptom in book.symptoms.values():
        for id in symptom.ask:
            if book.checks[id].where != "counter":
                yield f"symptom.{symptom.id}", f"asks {id}, which is not a counter check", "ask only counter checks"


def _mute_layouts(book: Book) -> Iterator[Mistake]:
    """Symptoms that on one of their layouts no cause shows."""
    for symptom in book.symptoms.values():
        showing = {on for cause in book.causes.values() if symptom.id in cause.shows for on in cause.layouts}
        if missing := set(symptom.layouts) - showing:
            why = f"no cause shows it on {', '.join(sorted(missing))}"
            yield f"symptom.{symptom.id}", why, "write the layouts it holds for"

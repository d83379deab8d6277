"""What the trouble book says of a cause, what this shop's own closed jobs say, and what is reckoned with from both."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from shopboard.trouble import Book, Learned
from shopboard.trouble.learning import outcome_shares, weight_shares
from shopboard.trouble.scales import FREQUENCY, WEIGHT, nearest_word

from .lines import BLANK, Line, cell, line, share, wrapped

#: A link below this is none.
_NO_LINK = 0.01


@dataclass(frozen=True)
class Row:
    """One finding of a cause: `word` and `book` say how often by the book (word "" where it names no link), `seen` of
    `of` what this shop's jobs with the cause say, `now_word` and `now` what is reckoned with."""

    finding: str
    outcome: str
    word: str
    book: float
    seen: int
    of: int
    now_word: str
    now: float


@dataclass(frozen=True)
class Says:
    """All that is said of one cause on one layout; `learned` None while the shop's jobs are not gone through."""

    base: Book
    cause: str
    layout: str
    learned: Learned | None
    common: Row
    rows: tuple[Row, ...]


def brief(learned: Learned | None, cause: str) -> str:
    """How common the cause is by book and shop, in a line; "" while no job teaches."""
    told = learned.of(cause).get("") if learned else None
    if told is None:
        return ""
    return f"book says {share(told.book)}, this shop {told.seen} of {told.of} found, now {share(told.now)}"


def says(base: Book, learned: Learned | None, layout: str, cause: str) -> Says:
    """What the book `base` and the shop's jobs say of the cause on this layout. Raises KeyError for a cause that the
    layout does not have."""
    said = learned.of(cause) if learned else {}
    whole = weight_shares(base, layout)[cause]
    told, entry = said.get(""), base.causes[cause]
    now = told.now if told else whole
    word = nearest_word(WEIGHT, entry.weight)
    now_word = nearest_word(WEIGHT, learned.book.causes[cause].weight) if learned else word
    common = Row("", "", word, whole, told.seen if told else 0, told.of if told else 0, now_word, now)
    return Says(base, cause, layout, learned, common, tuple(_by_finding(_rows(base, learned, layout, cause))))


def _by_finding(rows: Iterable[Row]) -> list[Row]:
    """What this shop has seen first, otherwise in the book's order; the outcomes of a check stay together."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(row.finding, []).append(row)
    return [row for group in sorted(groups.values(), key=lambda rows: not rows[0].of) for row in group]


def _rows(base: Book, learned: Learned | None, layout: str, cause: str) -> Iterator[Row]:
    after = learned.book if learned else base
    said = learned.of(cause) if learned else {}
    before_entry, after_entry = base.causes[cause], after.causes[cause]
    for symptom in dict.fromkeys((*before_entry.shows, *after_entry.shows)):
        if layout in base.symptoms[symptom].layouts:
            told = said.get(symptom)
            counts = (told.seen, told.of) if told else (0, 0)
            links = before_entry.shows.get(symptom, 0.0), after_entry.shows.get(symptom, 0.0)
            chances = outcome_shares(base, cause, symptom)["yes"], outcome_shares(after, cause, symptom)["yes"]
            yield _row(symptom, "", links, counts, chances)
    for check in dict.fromkeys((*before_entry.answers, *after_entry.answers)):
        if layout not in base.checks[check].layouts:
            continue
        before, now = before_entry.answers.get(check, {}), after_entry.answers.get(check, {})
        chances_before, chances_now = outcome_shares(base, cause, check), outcome_shares(after, cause, check)
        for outcome in chances_before:
            told = said.get(f"{check} {outcome}")
            if outcome and (outcome in before or outcome in now or (told and told.seen)):
                counts = (told.seen, told.of) if told else (0, 0)
                links = before.get(outcome, 0.0), now.get(outcome, 0.0)
                yield _row(check, outcome, links, counts, (chances_before[outcome], chances_now[outcome]))


def _row(
    finding: str, outcome: str, links: tuple[float, float], counts: tuple[int, int], chances: tuple[float, float]
) -> Row:
    words = [
        nearest_word(FREQUENCY, chance) if link > _NO_LINK else "" for link, chance in zip(links, chances, strict=True)
    ]
    return Row(finding, outcome, words[0], chances[0], *counts, words[1], chances[1])


# -- as lines ---------------------------------------------------------------------------------------------------------

_INTRO = (
    "A job counts once its cause was confirmed and it has not come back with the same trouble within {days} days; "
    "three jobs hardly move the book, three hundred overrule it."
)


def says_lines(told: Says, days: int, age: str, unknown: str, width: int) -> list[Line]:
    """The page: how common, then each sign with what the book says, what the shop saw and what is reckoned with.

    `days` are the shop's comeback days, `age` the sentence on the machine's age ("" for none), `unknown` why the jobs
    are not gone through.
    """
    name = told.base.causes[told.cause].name
    rows = wrapped(f"{name}, {told.layout}", width, "strong")
    rows += [*_behind(told, unknown, width), BLANK, _titles("", width)]
    rows += [*_pair("how common", told.common, width), BLANK]
    last = ""
    for row in told.rows:
        symptom = told.base.symptoms.get(row.finding)
        check = told.base.checks.get(row.finding)
        if check is not None and row.finding != last:
            rows.append(line(None, cell(check.name, width)))
        last = row.finding
        rows += _pair(f"  {check.outcomes[row.outcome].name}" if check else symptom.name if symptom else "", row, width)
    if age:
        rows += [BLANK, *wrapped(age, width)]
    return [*rows, BLANK, *wrapped(_INTRO.format(days=days), width, "soft")]


def _behind(told: Says, unknown: str, width: int) -> list[Line]:
    """How many jobs are behind it."""
    if told.learned is None:
        return wrapped(f"this shop's own jobs: {unknown}; what follows is the book alone", width, "wait")
    others, own, family = told.learned.jobs
    if not own + others:
        return wrapped("no closed job of this shop teaches yet; what follows is the book alone", width, "wait")
    of_family = f", {family} of them of this family" if family else ""
    return wrapped(f"from {jobs(own)} on this layout{of_family}, and {jobs(others)} on others", width, "soft")


def jobs(many: int) -> str:
    """So many closed jobs, in words.

    >>> jobs(1), jobs(41)
    ('1 closed job', '41 closed jobs')
    """
    return f"{many} closed job{'' if many == 1 else 's'}"


def _columns(width: int) -> tuple[int, int, int]:
    """Widths of the columns book, this shop, reckoned with; the name has the rest."""
    return (20, 13, 20) if width >= 90 else (5, 13, 6) if width >= 50 else (5, 9, 5)


def _titles(name: str, width: int) -> Line:
    book, shop, now = _columns(width)
    wide = now > 6
    titles = (
        cell("the book" if wide else "book", book),
        cell("this shop", shop),
        cell("reckoned with" if wide else "now", now),
    )
    return line(None, (cell(name, width - book - shop - now - 3), "soft"), (" " + " ".join(titles), "soft"))


def _pair(name: str, row: Row, width: int) -> list[Line]:
    book, shop, now = _columns(width)
    counts = f"{row.seen} of {row.of}" if row.of else "–"
    cells = (
        cell(_often(row.word, row.book, book), book),
        cell(counts, shop),
        cell(_often(row.now_word, row.now, now), now),
    )
    moved = abs(row.now - row.book) >= 0.05
    room = max(8, width - book - shop - now - 3)
    return [line(None, cell(name, room), " ", cells[0], " ", cells[1], " ", (cells[2], "strong" if moved else ""))]


def _often(word: str, chance: float, room: int) -> str:
    return f"{share(chance)} {word}".strip() if room > 6 else share(chance)


def says_data(told: Says) -> list[dict[str, object]]:
    """The figures for `--json`: the first how common the cause is, then one for each sign."""
    return [
        {
            "cause": told.cause,
            "finding": row.finding or None,
            "outcome": row.outcome or None,
            "book": row.book,
            "seen": row.seen,
            "of": row.of,
            "now": row.now,
        }
        for row in (told.common, *told.rows)
    ]

"""Triage without a job: symptoms and answers in words, ranked causes, next checks and the chart out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shopboard.records import Layout
from shopboard.trouble import Advice, Book, Evidence, Learned, NextCheck, Ranking, advise, rank, suggest_symptoms

from .bench_lines import MAKER_FIRST, answer_words, weight_words
from .book_says import Says, jobs, says, says_data
from .lines import BLANK, Line, bar, cell, line, share, wrapped
from .tree_lines import tree_page


@dataclass(frozen=True)
class Question:
    """What triage was asked, and its answer: `book` is what was reckoned with, `base` the book as written, `learned`
    what the shop's jobs made of it (None: not asked), `says` what both say of a cause that was asked about."""

    book: Book
    base: Book
    layout: str
    evidence: Evidence
    ranking: Ranking
    advice: Advice
    instruments: Sequence[str] | None = None
    learned: Learned | None = None
    says: Says | None = None


def known_layout(layout: str) -> None:
    """Raises ValueError, with those there are, for a layout there is not."""
    if layout not in (known := [each.value for each in Layout]):
        raise ValueError(f"no layout {layout}: there are {', '.join(known)}")


def question(
    base: Book,
    layout: str,
    symptoms: Sequence[str],
    answers: Sequence[str],
    instruments: Sequence[str] | None = None,
    learned: Learned | None = None,
    cause: str = "",
) -> Question:
    """Rank for symptoms given by id or name, with the checks worth making next; `instruments` are the shop's (None:
    all), `learned` what its jobs teach for the layout, `cause` one to say more of. Of several answers to one check the
    last counts. Raises ValueError with the one line that says what is right.
    """
    known_layout(layout)
    book = learned.book if learned else base
    evidence = Evidence(
        symptoms=tuple(dict.fromkeys(_symptom(book, layout, text) for text in symptoms)),
        answers=tuple(dict(_answer(book, layout, text) for text in answers).items()),
    )
    advice = advise(book, layout, evidence, instruments=instruments)
    told = says(base, learned, layout, cause) if cause else None
    return Question(book, base, layout, evidence, rank(book, layout, evidence), advice, instruments, learned, told)


def _symptom(book: Book, layout: str, text: str) -> str:
    wanted = text.strip().lower()
    for id, symptom in book.symptoms.items():
        if wanted in (id, symptom.name.lower()):
            if layout not in symptom.layouts:
                raise ValueError(f"{symptom.name} does not occur in the layout {layout}")
            return id
    names = [book.symptoms[id].name for id, _ in suggest_symptoms(book, text) if layout in book.symptoms[id].layouts]
    hint = (
        f"did you mean {' or '.join(names[:3])}?"
        if names
        else "the book has " + ", ".join(s.name for s in book.symptoms.values())
    )
    raise ValueError(f"no symptom “{text}”: {hint}")


def _answer(book: Book, layout: str, text: str) -> tuple[str, str]:
    check_id, _, outcome_id = text.partition("=")
    check = book.checks.get(check_id.strip())
    if check is None:
        raise ValueError(f"no check “{check_id}” in the book: write CHECK=OUTCOME with their ids, as --json shows them")
    if layout not in check.layouts:
        raise ValueError(f"the check {check_id} is not for the layout {layout}")
    if outcome_id.strip() not in (*check.outcomes, "unsure", "not tested"):
        raise ValueError(f"the check {check_id} has no outcome “{outcome_id}”: {', '.join(check.outcomes)} or unsure")
    return check.id, outcome_id.strip()


def triage_lines(asked: Question, width: int) -> list[Line]:
    """The answer as text."""
    book = asked.book
    names = ", ".join(book.symptoms[s].name for s in asked.evidence.symptoms)
    rows = [line(None, (cell(f"{names}   {asked.layout}", width), "strong"))]
    rows += [line(None, answer_words(book, c, o)) for c, o in asked.evidence.answers]
    rows += [BLANK, line(None, ("likely", "strong"))]
    rows += [row for c in asked.ranking.causes[:8] for row in _cause(c, width)]
    rows.append(_share_line("two faults at once", asked.ranking.two_at_once, width))
    rows.append(_share_line("none of these", asked.ranking.none_of_these, width))
    rows += _from(asked, width)
    for text in asked.ranking.contradictions:
        rows += wrapped(text, width, "wait")
    rows += [BLANK, line(None, ("next checks", "strong"))]
    for check in asked.advice.checks:
        rows += _check(book, check, width)
    if asked.advice.repair_now or not asked.advice.checks:
        rows += wrapped(asked.advice.why, width, "good")
    return [*rows, BLANK, *wrapped(MAKER_FIRST, width, "wait")]


def _from(asked: Question, width: int) -> list[Line]:
    """What the ranking is reckoned from besides the book."""
    if asked.learned is None:
        return []
    others, own, _ = asked.learned.jobs
    if not own + others:
        return wrapped("no closed job of this shop teaches yet: this is the book alone", width, "soft")
    told = f"reckoned from the book and {jobs(own)} of this shop on this layout, {others} on others"
    return wrapped(f"{told} (--book-alone leaves them out)", width, "soft")


def _share_line(name: str, probability: float, width: int) -> Line:
    return line(None, cell(name, 38), cell(share(probability), 7, ">"), "  ", (bar(probability, 20), "bar"))


def _cause(cause: Any, width: int) -> list[Line]:
    rows = [_share_line(cause.name, cause.probability, width)]
    if cause.probability >= 0.03:
        for title, weights in (("for", cause.speaks_for), ("against", cause.speaks_against)):
            if weights:
                said = "; ".join(weight_words(w) for w in weights)
                rows += wrapped(f"{title}: {said}", width, "soft", indent="    ")
    return rows


def _check(book: Book, check: NextCheck, width: int) -> list[Line]:
    covers = ", ".join(book.covers[c].name for c in check.covers if c in book.covers)
    off = f", off: {covers}" if covers else ""
    rows = wrapped(
        f"{check.name}   {check.minutes:.0f} min, saves about {check.saves_minutes:.0f}, {check.where}{off}", width
    )
    for text in check.cautions:
        rows += wrapped(f"CAUTION  {text}", width, "late", indent="    ")
    return [*rows, *wrapped(check.how, width, "soft", indent="    ")]


def triage_data(asked: Question) -> dict[str, Any]:
    """What `triage --json` prints. Ids are those of the trouble book.

    - `symptoms`: ids; `layout`; `answers`: each with `check` and `outcome` (ids)
    - `causes`: every cause of the layout, the likeliest first, with `id`, `name`, `probability` (0 to 1), `for` and
      `against` (what speaks for and against it: `text`, and `weight` in nats, negative against)
    - `two_at_once`, `none_of_these`: probabilities; with those of the causes they come to 1
    - `learned`: null where the book alone was asked, else `jobs` (closed jobs of the shop on the layout that teach) and
      `elsewhere` (those on other layouts)
    - `says`: what book and shop say of the `cause` named by --says, else empty: first how common it is (`finding` and
      `outcome` null), then each sign, with `book`, `now` (shares by the book and as reckoned with) and `seen` of `of`
    - `contradictions`: sentences about answers that hardly go together
    - `advice`: `repair_now` (whether mending is a better bet than any check), `repair` (the id of the correction then,
      or null to hand the machine on), `minutes_to_fix` (expected) and `why` (a sentence)
    - `next`: checks worth making, the best first, with `check` (id), `name`, `minutes` (it takes), `saves_minutes`
      (expected), `where` (counter, yard, bay or move), `covers` (ids of those to take off), `cautions` (sentences)
      and `outcomes` (name by id)
    """
    return {
        "symptoms": list(asked.evidence.symptoms),
        "layout": asked.layout,
        "answers": [{"check": c, "outcome": o} for c, o in asked.evidence.answers],
        "causes": [
            {
                "id": c.id,
                "name": c.name,
                "probability": c.probability,
                "for": [{"text": w.text, "weight": w.weight} for w in c.speaks_for],
                "against": [{"text": w.text, "weight": w.weight} for w in c.speaks_against],
            }
            for c in asked.ranking.causes
        ],
        "two_at_once": asked.ranking.two_at_once,
        "none_of_these": asked.ranking.none_of_these,
        "learned": {"jobs": asked.learned.jobs[1], "elsewhere": asked.learned.jobs[0]} if asked.learned else None,
        "says": says_data(asked.says) if asked.says else [],
        "contradictions": list(asked.ranking.contradictions),
        "advice": {
            "repair_now": asked.advice.repair_now,
            "repair": asked.advice.repair.correction if asked.advice.repair else None,
            "minutes_to_fix": asked.advice.minutes_to_fix,
            "why": asked.advice.why,
        },
        "next": [
            {
                "check": c.check,
                "name": c.name,
                "minutes": c.minutes,
                "saves_minutes": c.saves_minutes,
                "where": c.where,
                "covers": list(c.covers),
                "cautions": list(c.cautions),
                "outcomes": {o.id: o.name for o in asked.book.checks[c.check].outcomes.values()},
            }
            for c in asked.advice.checks
        ],
    }


def chart_lines(asked: Question, width: int) -> list[Line]:
    """The triage tree of the first symptom, as a wall chart in text."""
    symptom = asked.evidence.symptoms[0]
    title = f"{asked.book.symptoms[symptom].name}   {asked.layout}"
    answers = dict(asked.evidence.answers)
    page = tree_page(asked.book, asked.layout, symptom, answers, instruments=asked.instruments, whole_cautions=True)
    return [
        line(None, (cell(title, width), "strong")),
        BLANK,
        *page(width),
        BLANK,
        *wrapped(MAKER_FIRST, width, "wait"),
    ]

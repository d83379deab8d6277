"""What the Bench says of one job: what was said and measured, likely causes, next checks, cautions first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shopboard.estimate.labour import closure
from shopboard.records import Job, Operation, ShopState
from shopboard.shop import readings
from shopboard.trouble import Book

from .job_words import day_words, parts_words
from .lines import BLANK, Line, Role, Span, bar, cell, line, share, wrapped

if TYPE_CHECKING:  # they bring numpy, which nothing loads before the first paint
    from shopboard.trouble import Advice, NextCheck, Ranked, Ranking, Weight

NONE_OF_THESE, TWO_AT_ONCE = "none-of-these", "two-at-once"


def head_lines(state: ShopState, job: Job, now: datetime, zone: ZoneInfo, width: int) -> list[Line]:
    """Tag, machine, hours, stage; then the complaint in the customer's own words."""
    machine = state.machines.get(job.machine)
    model = state.models.get(machine.model) if machine else None
    customer = state.customers.get(job.customer)
    hours = f"{job.hours:,.0f} h" if job.hours is not None else "no hours"
    bay = state.settings.bay(job.bay)
    where = f"in {bay.name}" if bay else "not in a bay"
    layout = machine.layout.value if machine else ""
    facts = f"{model.name if model else '?'}  {layout}  {hours}  {customer.name if customer else '?'}"
    stage = f"{job.stage}, {where}"
    promise = f"promised {day_words(job.promise, now, zone)}" if job.promise else "no date promised"
    comeback = f"  comeback of T-{job.comeback.of:04d}" if job.comeback else ""
    first = line(None, (f"{job.tag}  ", "mark"), (cell(facts, width - len(job.tag) - 2), "strong"))
    second = line(None, (cell(f"{stage}  {promise}{comeback}", width), "soft"))
    return [first, second, line(None, cell(f"“{job.complaint}”", width))]


def said_heading(width: int) -> list[Line]:
    """What stands over what was said and measured."""
    return [line(None, (cell("said and measured", width), "strong"))]


def _item(text: str, width: int, role: Role = "") -> list[Line]:
    first, *rest = wrapped(text, max(1, width - 2), role)
    return [line(None, ("– ", "soft"), *first.spans), *(line(None, "  ", *row.spans) for row in rest)]


def said_lines(state: ShopState, book: Book, job: Job, width: int) -> list[Line]:
    """What was said and measured, newest last; what stays open is left out."""
    rows: list[Line] = []
    for symptom in job.symptoms:
        known = book.symptoms.get(symptom)
        rows += _item(known.name if known else symptom, width)
    timed: list[tuple[datetime, list[Line]]] = []
    for answer in job.answers:
        timed.append((answer.at, _item(answer_words(book, answer.check, answer.outcome), width)))
    counting = set(map(id, readings.counting(job)))
    for reading in job.readings:
        error = f" ±{reading.error:g}" if reading.error else ""
        words = f"{reading.quantity.replace('_', ' ')}: {reading.value:g}{error} {reading.unit}"
        gone = "" if id(reading) in counting else " (counts no more)"
        timed.append((reading.at, _item(words + gone, width, "soft" if gone else "")))
    for note in job.notes:
        timed.append((note.at, _item(f"{note.by}: {note.text}", width, "soft")))
    for finding in job.findings:
        cause = book.causes.get(finding.cause)
        words = f"found: {cause.name if cause else finding.text or finding.cause}"
        timed.append((finding.at, _item(words, width, "good")))
    for _, lines in sorted(timed, key=lambda pair: pair[0]):
        rows += lines
    return rows


def answer_words(book: Book, check_id: str, outcome_id: str) -> str:
    """An answer as one reads it: "worse hot or cold? worse hot"."""
    check = book.checks.get(check_id)
    if check is None:
        return f"{check_id}: {outcome_id}"
    outcome = check.outcomes.get(outcome_id)
    return (
        f"{check.name} {outcome.name if outcome else outcome_id}"
        if check.name.endswith("?")
        else (f"{check.name}: {outcome.name if outcome else outcome_id}")
    )


def cause_lines(ranking: Ranking, width: int, behind: str = "", most: int = 8) -> list[Line]:
    """Likely causes with bars; two at once and none of these always stand with them. `behind` says what they are
    reckoned from."""
    told = cell(f"  {behind}", width - 6) if behind else ""
    rows = [line(None, ("likely", "strong"), (told, "soft")) if told else line(None, ("likely", "strong"))]
    shown = [(c.id, c.name, c.probability) for c in ranking.causes[:most]]
    shown.append((TWO_AT_ONCE, "two faults at once", ranking.two_at_once))
    shown.append((NONE_OF_THESE, "none of these", ranking.none_of_these))
    shown.sort(key=lambda row: -row[2])
    bars = 0 if width < 36 else 10
    for id, name, probability in shown:
        rows.append(
            Line(
                id,
                (
                    Span(cell(name, width - 6 - bars - 1)),
                    Span(cell(share(probability), 6, ">") + " ", "strong" if id == shown[0][0] else ""),
                    Span(bar(probability, bars), "bar"),
                ),
            )
        )
    return rows


def advice_lines(advice: Advice | None, width: int) -> list[Line]:
    """What to mend now where that is the better bet than any check; nothing while checks are worth their time."""
    if advice is None or not advice.repair_now:
        return []
    if advice.repair is None:
        return [*wrapped(f"hand it on: {advice.why}", width, "wait"), BLANK]
    repair = advice.repair
    words = f"mend now: {repair.name}, {repair.minutes:.0f} min, cures it at {share(repair.probability)}"
    return [*wrapped(words, width, "good"), BLANK]


_PLACES = {"counter": "ask", "yard": "in the yard", "bay": "in a bay", "move": "on the move"}


def _cost(check: NextCheck, width: int) -> str:
    saves = f"{check.saves_minutes:.0f}"
    if width < 36:  # the detail under the lists says it in full
        return f"{check.minutes:.0f} min, saves {saves}, {_PLACES[check.where].split()[-1]}"
    return f"{check.minutes:.0f} min, saves about {saves}, {_PLACES[check.where]}"


def check_lines(book: Book, checks: Sequence[NextCheck], width: int) -> list[Line]:
    """Next checks, the best first: two lines each, name and what it costs and saves."""
    rows = [line(None, ("next checks", "strong"))]
    if not checks:
        return [*rows, *wrapped("no check left that would tell more: d records what was found", width, "soft")]
    for check in checks:
        rows.append(line(check.check, cell(check.name, width)))
        covers = ", ".join(book.covers[c].name for c in check.covers if c in book.covers)
        rows.append(line(None, (cell(f"  {_cost(check, width)}", width), "soft")))
        if covers:
            rows.append(line(None, (cell(f"  off: {covers}", width), "soft")))
    return rows


def cause_detail(book: Book, ranking: Ranking, id: str | None, width: int, says: str = "") -> list[Line]:
    """What speaks for and against the cause under the cursor, what would mend it, and what book and shop say of it."""
    if id == NONE_OF_THESE:
        return wrapped("none of these: the trouble may be one the book does not know; keep an open eye", width)
    if id == TWO_AT_ONCE:
        pairs = [f"{pair.name} {share(pair.probability)}" for pair in ranking.pairs[:3]]
        return wrapped("two faults at once: " + "; ".join(pairs), width)
    ranked = next((c for c in ranking.causes if c.id == id), None)
    if ranked is None:
        return []
    rows = wrapped(f"{ranked.name}, {share(ranked.probability)}", width, "strong")
    rows += wrapped("for: " + _weights(ranked.speaks_for), width, "good")
    rows += wrapped("against: " + _weights(ranked.speaks_against), width, "wait")
    cause = book.causes[ranked.id]
    mends = [book.corrections[c] for c in cause.correction if c in book.corrections]
    if mends:
        rows += wrapped("mends it: " + "; ".join(f"{m.name} ({m.minutes:.0f} min)" for m in mends), width, "soft")
    return [*rows, *(wrapped(f"how common: {says} (x says more)", width, "soft") if says else [])]


def weight_words(weight: Weight) -> str:
    """One piece of evidence, how strong it is in a word, and by what it multiplies the odds of the cause."""
    return f"{weight.text} ({weight.strength}, odds × {math.exp(weight.weight):.2g})"


def _weights(weights: Sequence[Weight]) -> str:
    words = [weight_words(w) for w in weights]
    return "; ".join(words) if words else "nothing yet"


def check_detail(book: Book, check: NextCheck | None, width: int) -> list[Line]:
    """The check under the cursor: its cautions before its instruction, then why it is worth doing."""
    if check is None:
        return []
    rows: list[Line] = []
    cautions = [book.cautions[id].name for id in book.checks[check.check].cautions if id in book.cautions]
    if cautions:
        rows += wrapped(f"CAUTION  {'; '.join(cautions)} (Enter shows them whole)", width, "late")
    rows += wrapped(check.name, width, "strong")
    rows += wrapped(f"how: {check.how}", width)
    if check.tool:
        rows += wrapped(f"tool: {check.tool}", width, "soft")
    return [*rows, *wrapped(check.why, width, "soft")]


MAKER_FIRST = "The maker's service manual, your lockout procedure and local rules come first."


def caution_lines(cautions: Sequence[str], width: int) -> list[Line]:
    """Cautions in full, each marked by the word, then who has the last word."""
    rows: list[Line] = []
    for text in cautions:
        rows += wrapped(f"CAUTION  {text}", width, "late")
    if rows:
        rows += wrapped(MAKER_FIRST, width, "wait")
    return rows


def parts_note(state: ShopState, job: Job, now: datetime, zone: ZoneInfo, width: int) -> list[Line]:
    """The parts of this job in a line, when there are any."""
    lines = list(state.parts_of(job.id))
    if not lines:
        return []
    from .job_words import awaited

    return [line(None, (cell(f"parts: {parts_words(awaited(state, job), now, zone)}", width), "soft"))]


def covers_note(book: Book, job: Job, width: int) -> list[Line]:
    """The covers that are off now."""
    names = ", ".join(book.covers[c].name if c in book.covers else c for c in job.covers_off)
    return wrapped(f"off: {names}", width, "wait") if names else []


#: The key of an operation's line begins so; what follows is its id.
OPERATION = "operation:"


def to_do_lines(job: Job, width: int) -> list[Line]:
    """The operations of the job, those still to do first."""
    if not job.operations:
        return []
    rows = [line(None, ("to do", "strong"))]
    for op in sorted(job.operations, key=lambda op: op.done):
        tail = " done" if op.done else f" {op.minutes:.0f} min"
        words = cell(op.name, max(0, width - len(tail))) + tail
        rows.append(line(OPERATION + op.id, (words, "soft" if op.done else "")))
    return [*rows, BLANK]


def operation_detail(book: Book, op: Operation, width: int, *, whole: bool = False) -> list[Line]:
    """An operation: its cautions first (in full with `whole`), then what must come off in order, and what it needs."""
    entry = book.corrections.get(op.id)
    cautions = [book.cautions[c] for c in entry.cautions if c in book.cautions] if entry else []
    if whole:
        rows = caution_lines([c.text for c in cautions], width)
    else:
        named = "; ".join(c.name for c in cautions)
        rows = wrapped(f"CAUTION  {named} (Enter shows them whole)", width, "late") if named else []
    rows += wrapped(f"{op.name}, {op.minutes:.0f} min of its own work", width, "strong")
    known = [c for c in op.covers if c in book.covers]
    order = closure(known, {id: cover.above for id, cover in book.covers.items()})
    if order:
        rows += wrapped("off in this order: " + ", ".join(book.covers[c].name for c in order), width)
    needs = [*op.needs, *([f"skill {op.skill}"] if op.skill else [])]
    return [*rows, *(wrapped("needs " + ", ".join(needs), width, "soft") if needs else [])]


def no_job_lines(width: int) -> list[Line]:
    """What an empty Bench says."""
    return [
        BLANK,
        *wrapped("No job on the Bench.", width, "strong"),
        *wrapped(
            "Choose one on the Floor with Enter, type its tag number and Enter, scan its tag, or press / to find it.",
            width,
        ),
    ]


def top(ranking: Ranking) -> Ranked | None:
    """The likeliest single cause."""
    return ranking.causes[0] if ranking.causes else None

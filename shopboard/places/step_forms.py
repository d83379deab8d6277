"""For each step of a job: what must be asked, and the rule the answers are handed to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from shopboard.records import Job, Role, Step
from shopboard.shop import approval, bays, choices, closing, dates, evidence, kits, stages

from . import agreed_forms, part_forms
from .fields import Field, Option, Values, moment_on, needed, read_day, read_number, reads, text_of
from .form_parts import Ready, StepForm, choose, money, sum_of, words

if TYPE_CHECKING:
    from shopboard.trouble import Correction

    from .app import Board

YES_NO = ("yes", "no")


def _none(_board: Board, _job: Job) -> Sequence[Field]:
    return ()


# -- people and bays ------------------------------------------------------------------------------------------------


def technicians(board: Board, start: str = "") -> Field:
    """Who works on it."""
    people = [p for p in board.state.settings.people if Role.TECHNICIAN in p.roles]
    options = choose([Option(p.id, p.name, ", ".join(p.skills)) for p in people])
    return Field("person", "who does it", "choice", options=options, start=start)


def _person(board: Board, job: Job) -> Sequence[Field]:
    signer = board.state.settings.person(board.who)
    start = job.person or (board.who if signer and Role.TECHNICIAN in signer.roles else "")
    return (technicians(board, start),)


def _bay(board: Board, job: Job) -> Sequence[Field]:
    options = []
    for bay, why_not in bays.fitting(board.state, job):
        options.append(Option(bay.id, bay.name, why_not or "free", "soft" if why_not else ""))
    options.sort(key=lambda option: option.note != "free")
    ask = Field("bay", "into which bay", "choice", options=choose(options), check=needed("choose a bay"))
    return (ask, technicians(board, job.person)) if not job.person else (ask,)


def _swap(board: Board, job: Job) -> Sequence[Field]:
    return _bay(board, job)[:1]


# -- money ----------------------------------------------------------------------------------------------------------


def _ask(board: Board, job: Job) -> Sequence[Field]:
    from .estimate import proposed_sum

    return (money(board, "amount", "sum asked for", start=proposed_sum(board, job)),)


_HOW = words("by phone", "at the counter", "in writing")


def _give(board: Board, job: Job) -> Sequence[Field]:
    customer = board.state.customers.get(job.customer)
    return (
        Field("said_by", "who said yes", start=customer.name if customer else "", check=needed("name the person")),
        Field("how", "how", "text", options=_HOW, check=needed("by phone, at the counter or in writing")),
        money(board, "limit", "up to", blank=True),
    )


def _decline(board: Board, job: Job) -> Sequence[Field]:
    customer = board.state.customers.get(job.customer)
    return (
        Field("said_by", "who said no", start=customer.name if customer else "", check=needed("name the person")),
        Field("how", "how", options=_HOW, check=needed("by phone, at the counter or in writing")),
        Field("why", "why", hint="too dear, sells it …", check=needed("say why, in a word or two")),
    )


def _collect(board: Board, job: Job) -> Sequence[Field]:
    agreed = approval.agreed(job)
    start = str(agreed if agreed is not None else job.diagnostic_fee)
    return (
        money(board, "total", "total with tax", start=start),
        money(board, "paid", "paid now", start=start),
        Field("word_of", "on whose word", hint="only if something stays unpaid"),
    )


# -- road test, time, covers, findings ------------------------------------------------------------------------------

ROAD_TEST_CAUTION = "Seat belt on, roll bar up, run-out room clear. Prove brake and interlocks before anything else."


def _road_test(_board: Board, _job: Job) -> Sequence[Field]:
    return (
        Field("passed", "passed?", "choice", options=words(*YES_NO), check=_said_yes_or_no),
        Field("interlocks", "interlocks proved?", "choice", options=words(*YES_NO), check=_said_yes_or_no),
        Field("brake", "brake proved?", "choice", options=words(*YES_NO), check=_said_yes_or_no),
        Field("note", "note", hint="what was felt or heard"),
    )


def _said_yes_or_no(typed: str, _values: Values) -> str:
    return "" if typed in YES_NO else "yes or no"


def _road_tested(board: Board, job: Job, v: Values) -> Ready:
    passed, interlocks, brake = (text_of(v, id) == "yes" for id in ("passed", "interlocks", "brake"))
    note = text_of(v, "note")
    return lambda s, now: stages.road_test(s, now, board.who, job.id, passed, interlocks, brake, note)


def _minutes(_board: Board, _job: Job) -> Sequence[Field]:
    return (
        Field(
            "minutes",
            "minutes",
            hint="such as 25",
            check=reads(lambda t: read_number(t, "minutes", "min"), blank=False),
        ),
        Field("what", "on what", hint="blank is fine"),
    )


def cover_options(board: Board, job: Job) -> list[Option]:
    """Covers of this layout that are still on."""
    machine = board.state.machines.get(job.machine)
    layout = machine.layout.value if machine else ""
    names = board.book.covers
    return [
        Option(id, cover.name, f"{cover.off:.0f} min off, {cover.on:.0f} on")
        for id, cover in names.items()
        if layout in cover.layouts and id not in job.covers_off
    ]


def _cover_off(board: Board, job: Job) -> Sequence[Field]:
    return (
        Field("cover", "which came off", "choice", options=choose(cover_options(board, job)), check=needed("which?")),
    )


def _cover_on(board: Board, job: Job) -> Sequence[Field]:
    options = [Option(c, board.book.covers[c].name if c in board.book.covers else c) for c in reversed(job.covers_off)]
    return (Field("cover", "which is back on", "choice", options=choose(options), check=needed("which?")),)


def _work(_board: Board, job: Job) -> Sequence[Field]:
    options = [Option(op.id, op.name, f"{op.minutes:.0f} min") for op in job.operations if not op.done]
    return (Field("operation", "what is done", "choice", options=choose(options), check=needed("which?")),)


def _confirm(board: Board, job: Job) -> Sequence[Field]:
    causes = board.book.causes
    options = [
        Option(f.cause, causes[f.cause].name if f.cause in causes else f.text) for f in job.findings if not f.confirmed
    ]
    return (Field("cause", "which proved right", "choice", options=choose(options), check=needed("which?")),)


#: The answer that leaves the correction open.
NOTHING_YET = "nothing yet"


def finding_fields(board: Board, job: Job, start: str = "") -> Sequence[Field]:
    """Cause and correction as found; the correction's options follow the cause."""
    machine = board.state.machines.get(job.machine)
    layout = machine.layout.value if machine else ""
    likely = {c.cause: n for n, c in enumerate(job.likely)}
    causes = [c for c in board.book.causes.values() if layout in c.layouts]
    causes.sort(key=lambda c: (likely.get(c.id, 99), c.name))
    options = [*(Option(c.id, c.name) for c in causes), Option("other", "other: say it in words")]

    def corrections(values: Values, typed: str) -> Sequence[Option]:
        known = _corrections_of(board, text_of(values, "cause"))
        options = [Option(c.id, c.name, f"{c.minutes_on(layout):.0f} min") for c in known]
        return choose([*options, Option(NOTHING_YET, NOTHING_YET)])(values, typed)

    def hint(values: Values) -> str:
        known = _corrections_of(board, text_of(values, "cause"))
        return f"blank: {known[0].name}" if known else "in your own words"

    return (
        Field("cause", "cause", "choice", options=choose(options), check=needed("choose the cause"), start=start),
        Field("text", "in your words", hint="what was seen"),
        Field("correction", "correction", options=corrections, hint=hint),
        part_forms.kit_question(board, job),
    )


def _corrections_of(board: Board, cause: str) -> list[Correction]:
    known = board.book.causes.get(cause)
    return [board.book.corrections[c] for c in known.correction if c in board.book.corrections] if known else []


def found(board: Board, job: Job, v: Values) -> Ready:
    """Record cause and correction; left blank, the correction is the book's first for the cause."""
    cause, text, correction = (text_of(v, id) for id in ("cause", "text", "correction"))
    if not correction and (known := _corrections_of(board, cause)):
        correction = known[0].id
    correction = "" if correction == NOTHING_YET else correction
    find = kits.find if text_of(v, "kit") == "yes" else evidence.find
    return lambda s, now: find(s, now, board.who, job.id, cause, text, correction, book=board.book)


# -- the table ------------------------------------------------------------------------------------------------------


def call(rule: Callable[..., Step], *ids: str) -> Callable[[Board, Job, Values], Ready]:
    """A rule that takes these answers as its arguments, as text and in this order."""

    def ready(board: Board, job: Job, values: Values) -> Ready:
        return lambda state, now: rule(state, now, board.who, job.id, *(text_of(values, id) for id in ids))

    return ready


def _asked(board: Board, job: Job, values: Values) -> Ready:
    amount = sum_of(board, values, "amount", "sum asked for")
    return lambda state, now: approval.ask(state, now, board.who, job.id, amount)


def _given(board: Board, job: Job, values: Values) -> Ready:
    limit = sum_of(board, values, "limit", "up to") if text_of(values, "limit") else None
    said_by, how = text_of(values, "said_by"), text_of(values, "how")
    return lambda state, now: approval.give(state, now, board.who, job.id, said_by, how, limit)


def _collected(board: Board, job: Job, values: Values) -> Ready:
    total, paid = sum_of(board, values, "total", "total"), sum_of(board, values, "paid", "paid now")
    word_of = text_of(values, "word_of")
    return lambda state, now: closing.collect(state, now, board.who, job.id, total, paid, word_of)


def _left(board: Board, job: Job) -> Sequence[Field]:
    if not (due := closing.declined_due(job)):
        return ()
    return (
        money(board, "paid", "to pay", start=str(due)),
        Field("word_of", "on whose word", hint="only if it stays unpaid"),
    )


def _gone(board: Board, job: Job, values: Values) -> Ready:
    paid = sum_of(board, values, "paid", "to pay") if text_of(values, "paid") else Decimal(0)
    word_of = text_of(values, "word_of")
    return lambda state, now: closing.machine_left(state, now, board.who, job.id, paid=paid, word_of=word_of)


def _spent(board: Board, job: Job, values: Values) -> Ready:
    minutes, what = read_number(text_of(values, "minutes"), "minutes", "min"), text_of(values, "what")
    return lambda state, now: stages.spend(state, now, board.who, job.id, minutes, what)


def _remark(_board: Board, _job: Job) -> Sequence[Field]:
    return (Field("text", "remark", check=needed("write something")),)


def _promise(board: Board, job: Job) -> Sequence[Field]:
    today = board.local_now().date()
    start = job.promise.astimezone(board.zone).date().isoformat() if job.promise else ""
    check = reads(lambda typed: read_day(typed, "promised for", today))
    return (
        Field("day", "promised for", hint="fri, tomorrow, +3, 2026-11-27; blank: no day", start=start, check=check),
        Field("told", "who was told", hint="blank is fine"),
    )


def _promised(board: Board, job: Job, values: Values) -> Ready:
    typed, told = text_of(values, "day"), text_of(values, "told")
    day = read_day(typed, "promised for", board.local_now().date()) if typed else None
    when = moment_on(day, board.zone) if day else None
    return lambda state, now: dates.promise(state, now, board.who, job.id, when, told)


def _rushed(board: Board, job: Job, _values: Values) -> Ready:
    return lambda state, now: dates.rush(state, now, board.who, job.id, not job.machine_down)


#: Every step the menu can take, by the name of its rule.
STEP_FORMS: dict[str, StepForm] = {
    "stages.diagnose": StepForm(_person, call(stages.diagnose, "person")),
    "evidence.find": StepForm(finding_fields, found),
    "parts.need": StepForm(part_forms.need_fields, part_forms.need),
    "kits.ask": StepForm(part_forms.kit_fields, part_forms.kit),
    "terms.pays": StepForm(agreed_forms.payer_fields, agreed_forms.pays),
    "terms.keep_old_parts": StepForm(_none, agreed_forms.old_parts),
    "stock.take": StepForm(part_forms.take_fields, part_forms.take),
    "approval.ask": StepForm(_ask, _asked),
    "approval.called": StepForm(_none, call(approval.called)),
    "approval.give": StepForm(_give, _given),
    "approval.decline": StepForm(_decline, call(approval.decline, "said_by", "how", "why")),
    "parts.order": StepForm(part_forms.order_lines_fields, part_forms.order_lines),
    "parts.back_order": StepForm(part_forms.back_order_fields, part_forms.back_order),
    "parts.receive": StepForm(part_forms.receive_fields, part_forms.receive),
    "bays.put": StepForm(_bay, call(bays.put, "bay", "person")),
    "bays.swap": StepForm(_swap, call(bays.swap, "bay")),
    "stages.start_repair": StepForm(_person, call(stages.start_repair, "person")),
    "stages.spend": StepForm(_minutes, _spent),
    "stages.cover_off": StepForm(_cover_off, call(stages.cover_off, "cover")),
    "stages.cover_on": StepForm(_cover_on, call(stages.cover_on, "cover")),
    "parts.fit": StepForm(part_forms.fit_fields, part_forms.fit),
    "stages.work_done": StepForm(_work, call(stages.work_done, "operation")),
    "stages.wait_for_parts": StepForm(_none, call(stages.wait_for_parts)),
    "evidence.confirm": StepForm(_confirm, call(evidence.confirm, "cause")),
    "stages.finish_repair": StepForm(_none, call(stages.finish_repair)),
    "stages.road_test": StepForm(_road_test, _road_tested, ROAD_TEST_CAUTION),
    "bays.leave": StepForm(_none, call(bays.leave)),
    "closing.collect": StepForm(_collect, _collected),
    "closing.machine_left": StepForm(_left, _gone),
    "dates.promise": StepForm(_promise, _promised),
    "dates.rush": StepForm(_none, _rushed),
    "choices.let_go": StepForm(_none, call(choices.let_go)),
    "evidence.remark": StepForm(_remark, call(evidence.remark, "text")),
}

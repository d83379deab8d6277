"""What may happen next to a job, for screens: every step in working order, each with why not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import NamedTuple

from shopboard.records import Job, Refused, ShopState

from . import approval, bays, choices, closing, dates, evidence, kits, parts, roles, stages, stock, terms
from .guards import still_open

Guard = Callable[[ShopState, Job, datetime], None]


class Move(NamedTuple):
    """A step by the rule's name ("stages.start_repair"), what it does in words, and why not now ("" if it may)."""

    name: str
    title: str
    why_not: str


def _open(state: ShopState, job: Job, now: datetime) -> None:
    still_open(job)


def _always(state: ShopState, job: Job, now: datetime) -> None:
    return None


#: Every step of a job in the order of the work, with the guard its rule runs.
_STEPS: tuple[tuple[str, str, Guard], ...] = (
    ("stages.diagnose", "begin the diagnosis", stages.may_diagnose),
    ("evidence.tick", "tick symptoms", _open),
    ("evidence.answer", "answer a check", _open),
    ("evidence.withdraw", "withdraw an answer", evidence.may_withdraw),
    ("evidence.read", "record a reading", _open),
    ("evidence.find", "record a cause found", _open),
    ("evidence.unfind", "a cause proved wrong", evidence.may_unfind),
    ("parts.need", "ask for a part", parts.may_need),
    ("kits.ask", "ask for the parts of a correction", kits.may_ask),
    ("approval.ask", "ask for approval", approval.may_ask),
    ("approval.called", "called, no answer yet", approval.may_answer),
    ("approval.give", "record the yes", approval.may_answer),
    ("approval.decline", "record the no", approval.may_decline),
    ("parts.order", "order parts", parts.may_order),
    ("stock.take", "take a part from the bin", stock.may_take),
    ("parts.back_order", "parts are back-ordered", parts.may_receive),
    ("parts.receive", "receive parts", parts.may_receive),
    ("bays.put", "put into a bay", bays.may_put),
    ("bays.swap", "swap into a full bay", bays.may_swap),
    ("stages.start_repair", "start the repair", stages.may_start_repair),
    ("stages.spend", "book time", _open),
    ("stages.cover_off", "take a cover off", stages.may_take_cover_off),
    ("parts.fit", "fit a part", parts.may_fit),
    ("parts.send_back", "send a part back", parts.may_send_back),
    ("stages.work_done", "mark work as done", stages.may_work),
    ("stages.cover_on", "put a cover back", stages.may_put_cover_on),
    ("stages.wait_for_parts", "wait for parts", stages.may_wait_for_parts),
    ("evidence.confirm", "confirm the cause", evidence.may_confirm),
    ("stages.finish_repair", "finish the repair", stages.may_finish_repair),
    ("stages.road_test", "record the road test", stages.may_road_test),
    ("bays.leave", "leave the bay", bays.may_leave),
    ("closing.collect", "let it be collected", closing.may_collect),
    ("closing.machine_left", "the machine left", closing.may_machine_left),
    ("dates.promise", "promise a date", dates.may_promise),
    ("dates.rush", "work waits for it, or does not", _open),
    ("choices.let_go", "leave it to the plan again", choices.may_let_go),
    ("terms.pays", "say who pays", terms.may_pay),
    ("terms.keep_old_parts", "old parts: keep them or not", _open),
    ("evidence.remark", "write a remark", _always),
)


def moves(state: ShopState, job: Job, now: datetime, by: str = "") -> tuple[Move, ...]:
    """Every step in working order with the reason it may not happen now, "" if it may; with `by`, also where it is not
    for any role of theirs.

    The guards are those the rules themselves run, so a move that may happen is refused only for what is typed into it.
    """
    return tuple(Move(name, title, _why_not(name, guard, state, job, now, by)) for name, title, guard in _STEPS)


def _why_not(name: str, guard: Guard, state: ShopState, job: Job, now: datetime, by: str) -> str:
    try:
        guard(state, job, now)
        roles.permit(state.settings, by, name)
    except Refused as refused:
        return str(refused)
    return ""

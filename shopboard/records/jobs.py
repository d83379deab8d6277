"""A job: one visit of one machine, from the counter to collected."""

from __future__ import annotations

import re
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

import msgspec

from .base import Moment, Record


class Stage(StrEnum):
    """Where a job stands; a job is always in exactly one stage."""

    ARRIVED = "arrived"
    DIAGNOSED = "being diagnosed"
    APPROVAL = "waiting for approval"
    PARTS = "waiting for parts"
    READY = "ready for a bay"
    REPAIR = "in repair"
    ROAD_TEST = "road test"
    COLLECT = "ready to collect"
    COLLECTED = "collected"
    DECLINED = "declined"

    @property
    def closed(self) -> bool:
        """Whether the job is over. A declined machine may still stand here: see `Job.left`."""
        return self in (Stage.COLLECTED, Stage.DECLINED)


class Payer(StrEnum):
    """Who pays for the job."""

    CUSTOMER = "customer"
    WARRANTY = "warranty"
    SHOP = "shop"


class Answer(Record, kw_only=True):
    """One answered check of the trouble book: ids of check and outcome; outcome "unsure" and "not tested" count
    for nothing."""

    check: str
    outcome: str
    at: Moment
    by: str
    note: str = ""


class Reading(Record, kw_only=True):
    """A measured number: SI-free, as `value` in `unit` with the instrument's standard error in the same unit. `check`
    is the check that was answered with it in one step; "" for one noted by itself."""

    quantity: str
    value: float
    unit: str
    error: Annotated[float, msgspec.Meta(ge=0)] = 0.0
    at: Moment
    by: str
    note: str = ""
    check: str = ""


class Finding(Record, kw_only=True):
    """Cause and correction as found: `cause` is an id of the trouble book or "other" (then `text` says it);
    `confirmed` when the correction proved it."""

    cause: str
    text: str = ""
    correction: str = ""
    at: Moment
    by: str
    confirmed: bool = False


class Operation(Record, kw_only=True):
    """Work to do: an id of the trouble book's correction or service point, or free text; minutes are book minutes
    without covers."""

    id: str
    name: str
    minutes: Annotated[float, msgspec.Meta(ge=0)]
    covers: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    skill: str = ""
    done: bool = False


class Approval(Record, kw_only=True):
    """A yes or no to an estimate: the sum asked for, and once answered, who said it, when and how, up to which sum."""

    asked: Decimal
    asked_at: Moment
    asked_by: str
    given: bool | None = None
    limit: Decimal | None = None
    said_by: str = ""
    how: str = ""
    at: Moment | None = None
    calls: tuple[Moment, ...] = ()


class Note(Record, kw_only=True):
    """A remark, signed."""

    text: str
    at: Moment
    by: str


class Spell(Record, kw_only=True):
    """Time somebody spent on the job, in minutes, in which bay and on what."""

    by: str
    at: Moment
    minutes: Annotated[float, msgspec.Meta(ge=0)]
    bay: str = ""
    what: str = ""


class RoadTest(Record, kw_only=True):
    """Outcome of the road test: the machine leaves only when it passed and interlocks and brake were proved."""

    passed: bool
    interlocks_proved: bool
    brake_proved: bool
    at: Moment
    by: str
    note: str = ""


class Settlement(Record, kw_only=True):
    """How the balance was settled at collection: paid, or released unpaid on a named person's word."""

    total: Decimal
    paid: Decimal
    at: Moment
    by: str
    released_on_word_of: str = ""


class Comeback(Record, kw_only=True):
    """This job is a comeback of an earlier one; `same` whether it is the same trouble, None while unknown."""

    of: int
    same: bool | None = None


class Pin(Record, kw_only=True):
    """What somebody chose for a job in the plan, over what is reckoned: who does it, in which bay, not before when
    (empty: left to the plan); with when it was chosen, by whom and why."""

    person: str = ""
    bay: str = ""
    start: Moment | None = None
    at: Moment
    by: str
    why: str = ""


class NotThis(Record, kw_only=True):
    """Somebody was offered this job as the next one and did not take it: who, when, and why."""

    by: str
    at: Moment
    why: str


class Likely(Record, kw_only=True):
    """One line of the ranking stored with the job, so that the Floor shows it without computing."""

    cause: str
    name: str
    probability: Annotated[float, msgspec.Meta(ge=0, le=1)]


class Job(Record, kw_only=True):
    """One visit of one machine, with everything said, measured, found, asked, fitted and settled. `keep_old_parts`:
    the customer wants to see the old parts; `declined_due`: what is to pay, tax with it, once the answer was no."""

    id: int
    customer: int
    machine: int
    arrived: Moment
    complaint: str
    stage: Stage = Stage.ARRIVED
    since: Moment
    symptoms: tuple[str, ...] = ()
    answers: tuple[Answer, ...] = ()
    readings: tuple[Reading, ...] = ()
    likely: tuple[Likely, ...] = ()
    findings: tuple[Finding, ...] = ()
    operations: tuple[Operation, ...] = ()
    covers_off: tuple[str, ...] = ()
    hours: float | None = None
    condition: str = ""
    keys: str = ""
    attachments: str = ""
    payer: Payer = Payer.CUSTOMER
    order_number: str = ""
    diagnostic_fee: Decimal = Decimal(0)
    spend_before_call: Decimal | None = None
    approval: Approval | None = None
    machine_down: bool = False
    bay: str = ""
    bay_since: Moment | None = None
    person: str = ""
    promise: Moment | None = None
    notes: tuple[Note, ...] = ()
    spent: tuple[Spell, ...] = ()
    road_test: RoadTest | None = None
    settlement: Settlement | None = None
    closed_at: Moment | None = None
    declined_why: str = ""
    left: Moment | None = None
    comeback: Comeback | None = None
    pin: Pin | None = None
    not_this: tuple[NotThis, ...] = ()
    keep_old_parts: bool = False
    declined_due: Decimal | None = None

    @property
    def tag(self) -> str:
        """The number on the machine and its job, such as T-0412."""
        return tag(self.id)


def tag(number: int) -> str:
    """The tag of job `number`.

    >>> tag(412)
    'T-0412'
    """
    return f"T-{number:04d}"


def tag_number(text: str) -> int | None:
    """The job number in `text` as people type a tag, or None.

    >>> tag_number("t-0412"), tag_number("412"), tag_number("T 412"), tag_number("pump")
    (412, 412, 412, None)
    """
    found = re.fullmatch(r"\s*(?:[tT][-\s]?)?0*([1-9][0-9]{0,8})\s*", text, re.ASCII)
    return int(found[1]) if found else None

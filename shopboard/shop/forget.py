"""Erasing a customer: what goes and what stays. Words go (who they are, what they said, what was written down about
them), figures stay (hours, causes, minutes, sums, days), so that the shop's memory keeps what it learned."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, TypeVar

from shopboard.records import Customer, Record, Refused, ShopState, tag

from .guards import both, changed, customer_of, signed
from .roles import permit
from .said import digits

R = TypeVar("R", bound=Record)

#: Stands where words were.
GONE = "erased at the customer's request"
#: Text fields that name things and people of the shop, never the customer; all other text goes.
KEPT = frozenset(
    {
        "id",
        "check",
        "outcome",
        "by",
        "asked_by",
        "counted_by",
        "quantity",
        "unit",
        "cause",
        "name",
        "bay",
        "person",
        "skill",
    }
    | {"symptoms", "covers", "covers_off", "needs", "number", "supplier", "lead_class", "order_reference", "reference"}
    | {"model", "serial", "bin"}
)
#: Of these, what somebody may have typed a name into.
_MAY_HOLD = frozenset({"serial", "number", "name", "order_reference", "reference"})
#: A correction that is an entry of the trouble book; one in words goes.
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
#: Fewer digits are no telephone number, fewer letters no address that could be found in other text.
_DIGITS, _LETTERS = 6, 5


def may_forget(state: ShopState, by: str, customer_id: int) -> Customer:
    """The customer, if they may be erased by whoever signs.

    Refused: not the owner, no such customer, a job of theirs that is open or a machine that still stands here.
    """
    signed(state, by)
    permit(state.settings, by, "data.erase")
    customer = customer_of(state, customer_id)
    standing = [job.tag for job in state.jobs.values() if job.customer == customer_id]
    if standing:
        raise Refused(
            f"{both(standing)} of {customer.name} {'is' if len(standing) == 1 else 'are'} open", "close that first"
        )
    return customer


def forgotten(record: R) -> R:
    """The record with every word of and about the customer gone and every figure kept.

    >>> from shopboard.records import Customer
    >>> forgotten(Customer(id=12, name="Hill", phone="555 01")).name
    'customer 12 (erased)'
    """
    if isinstance(record, Customer):
        return type(record)(id=record.id, name=f"customer {record.id} (erased)")
    gone = {name: kept for name in record.__struct_fields__ if (kept := _kept(name, getattr(record, name))) is not None}
    told: R = changed(record, **gone)
    return told


def _kept(name: str, value: object) -> object:
    """What stays of a field; None where it stays as it is."""
    if name == "complaint":
        return GONE
    if name == "notes":
        return ()
    if name == "correction" and isinstance(value, str) and _ID.fullmatch(value):
        return None
    if type(value) is str:
        return None if name in KEPT else ""
    if isinstance(value, Record):
        return forgotten(value)
    if isinstance(value, tuple) and value:
        if all(isinstance(one, Record) for one in value):
            return tuple(forgotten(one) for one in value)
        return () if name not in KEPT and any(type(one) is str for one in value) else None
    if isinstance(value, dict) and any(type(one) is str for one in value.values()):
        return {}
    return None


# -- finding them in what others wrote --------------------------------------------------------------------------------


def marks_of(versions: Iterable[Customer]) -> tuple[str, ...]:
    """What tells the customer in other text: every name, telephone number, address and e-mail they ever had here."""
    found: dict[str, None] = {}
    for customer in versions:
        for text in (customer.name, customer.phone, customer.address, customer.email):
            if text.strip() and not text.endswith("(erased)"):
                found[text.strip()] = None
    return tuple(found)


def finder(marks: Iterable[str]) -> re.Pattern[str] | None:
    """Finds the marks in text, however spaced and in whatever case, as whole words; None where there is nothing to
    find. A name of one word is found only as it is written: “hill” is a word, “Hill” may be a name."""
    loose = [_spaced(mark) for mark in marks if len(mark.split()) > 1 or not mark.isalpha()]
    exact = [rf"(?-i:{re.escape(mark)})" for mark in marks if len(mark.split()) == 1 and mark.isalpha()]
    patterns = [*loose, *exact]
    return re.compile(rf"(?<!\w)(?:{'|'.join(patterns)})(?!\w)", re.IGNORECASE) if patterns else None


def _spaced(mark: str) -> str:
    number = digits(mark)
    if len(number) >= _DIGITS and not any(char.isalpha() for char in mark):
        return r"\+?[\s().\-/]*".join(number)
    return r"\s+".join(map(re.escape, mark.split()))


def sure_marks(marks: Iterable[str], others: Iterable[Customer]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The marks that can be taken out of other people's text, and those that cannot: too short, or somebody else's
    too (a shared telephone, a name that another name holds)."""
    kept = [
        text.casefold() for other in others for text in (other.name, other.phone, other.address, other.email) if text
    ]
    numbers = {digits(text) for text in kept if len(digits(text)) >= _DIGITS}
    sure: list[str] = []
    unsure: list[str] = []
    for mark in marks:
        bare = mark.casefold()
        short = len(digits(mark)) < _DIGITS and sum(char.isalpha() for char in mark) < _LETTERS
        shared = any(bare in text for text in kept) or digits(mark) in numbers
        (unsure if short or shared else sure).append(mark)
    return tuple(sure), tuple(unsure)


def scrubbed(record: R, find: re.Pattern[str] | None, *, own: bool = False) -> R:
    """The record with what `find` finds taken out of its words. Who another customer is stays, and so does what names
    things of the shop; of the customer's `own` records also serial numbers and the like are looked through."""
    if find is None or isinstance(record, Customer):
        return record
    passed_by = KEPT - _MAY_HOLD if own else KEPT
    new = {
        name: told
        for name in record.__struct_fields__
        if name not in passed_by and (told := _without(value := getattr(record, name), find, own)) is not value
    }
    told_record: R = changed(record, **new) if new else record
    return told_record


def _without(value: Any, find: re.Pattern[str], own: bool) -> Any:
    if type(value) is str:
        told = find.sub("…", value)
        return value if told == value else told
    if isinstance(value, Record):
        return scrubbed(value, find, own=own)
    if isinstance(value, tuple):
        pieces = tuple(_without(one, find, own) for one in value)
        return value if all(new is old for new, old in zip(pieces, value, strict=True)) else pieces
    return value


def words_of(subject: int | None) -> str:
    """The sentence that stands in the history where words were."""
    return f"{tag(subject)}: {GONE}." if subject else f"{GONE[0].upper()}{GONE[1:]}."

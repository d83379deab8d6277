"""Everything the shop keeps of one customer, for them to have: as JSON, and as text to read."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from shopboard.records import Customer, Job, PartLine, Put, Refused, ShopState
from shopboard.shop.said import same
from shopboard.store import Store


def find_customer(state: ShopState, text: str) -> Customer:
    """The customer of a number or a name. Raises Refused where there is none, or more than one."""
    if text.strip().isascii() and text.strip().isdigit():
        found = [one for one in state.customers.values() if one.id == int(text)]
    else:
        found = [one for one in state.customers.values() if same(one.name) == same(text)]
    if len(found) == 1:
        return found[0]
    if found:
        numbers = ", ".join(str(one.id) for one in found)
        raise Refused(f"{len(found)} customers are called {text}", f"say which by number: {numbers}")
    raise Refused(f"there is no customer {text or '(blank)'} here", "say the number or the whole name")


def own_data(store: Store, customer: Customer, now: datetime) -> dict[str, Any]:
    """What `export customer` gives:

    - `shop` (text), `as_of` (time), `customer` (their record)
    - `machines`: a list of records, with every reading
    - `jobs`: a list, open and closed, each with `tag`, `job` (the whole record) and `parts` (its lines)
    - `history`: a list of every change that speaks of them, each with `change` (number), `at`, `by` and `why`
    """
    state = store.state
    jobs: list[tuple[Job, tuple[PartLine, ...]]] = [
        (job, tuple(state.parts_of(job.id))) for job in state.jobs.values() if job.customer == customer.id
    ]
    jobs += [whole for whole in store.closed_jobs() if whole[0].customer == customer.id]
    jobs.sort(key=lambda whole: whole[0].id)
    machines = [one for one in state.machines.values() if one.customer == customer.id]
    data = {
        "shop": state.settings.name,
        "as_of": now.astimezone(UTC),
        "customer": customer,
        "machines": machines,
        "jobs": [{"tag": job.tag, "job": job, "parts": lines} for job, lines in jobs],
        "history": list(_history(store, customer, {job.id for job, _ in jobs})),
    }
    told: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(data))
    return told


def _history(store: Store, customer: Customer, jobs: set[int]) -> Iterator[dict[str, Any]]:
    for change in store.changes():
        about = change.subject in jobs or any(
            isinstance(op, Put)
            and (op.data.get("customer") == customer.id or (op.table, op.id) == ("customers", customer.id))
            for op in change.ops
        )
        if about:
            yield {"change": change.seq, "at": change.at, "by": change.by, "why": change.why}


def as_text(data: dict[str, Any], zone: ZoneInfo) -> str:
    """The same to read: every field in words, times on the shop's wall."""
    lines = [f"What {data['shop']} keeps of {data['customer']['name']}", ""]
    for part in ("customer", "machines", "jobs", "history"):
        lines += [part.upper(), *_lines(data[part], 1, zone), ""]
    return "\n".join(lines)


def _lines(value: Any, depth: int, zone: ZoneInfo) -> Iterator[str]:
    pad = "  " * depth
    if isinstance(value, dict):
        for key, one in value.items():
            name = key.replace("_", " ")
            if isinstance(one, dict | list):
                yield f"{pad}{name}:"
                yield from _lines(one, depth + 1, zone)
            else:
                yield f"{pad}{name}: {_word(one, zone)}"
    elif isinstance(value, list):
        for one in value or ["none"]:
            if isinstance(one, dict | list):
                yield f"{pad}-"
                yield from _lines(one, depth + 1, zone)
            else:
                yield f"{pad}- {_word(one, zone)}"


def _word(value: Any, zone: ZoneInfo) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.endswith("Z") and value[:4].isdigit():
        try:
            return f"{datetime.fromisoformat(value).astimezone(zone):%Y-%m-%d %H:%M}"
        except ValueError:
            return value
    return str(value)

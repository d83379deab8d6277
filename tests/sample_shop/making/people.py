"""The customers and machines as the cards have them, and how the machines' hours grow."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from shopboard.records import Customer, Duty, HourReading, Machine, Step

from .bench import Bench
from .hours import NOW, at
from .sources import Sources


@dataclass
class Fleet:
    """One machine with what the records do not say: how it is used, and when its meter was replaced."""

    machine: int
    customer: int
    owner: str
    model: str
    serial: str
    seen: datetime
    first: float
    week: float
    replaced: datetime | None
    read_since: bool = False
    last: float = 0.0

    def age(self, when: datetime) -> float:
        """Hours the machine has run."""
        return self.first + self.week * max(0.0, (when - self.seen) / timedelta(weeks=1))

    def meter(self, when: datetime, rng: Random) -> tuple[float, bool]:
        """What the meter shows now, and whether it is another one than at the last visit. Grows from visit to visit."""
        hours, new = self.age(when), False
        if self.replaced and when >= self.replaced:
            hours -= self.age(self.replaced)
            new, self.read_since = not self.read_since, True
        shown = hours * rng.uniform(0.985, 1.0)
        shown = round(max(shown, 0.0 if new else self.last + 0.2), 1)
        self.last = shown
        return shown, new


def fleet(bench: Bench, given: Sources) -> list[Fleet]:
    """Write down customers and machines as first seen; returns what their hours will do."""
    machines: list[Fleet] = []
    for number, person in enumerate(given.people, 1):
        customer = Customer(
            id=number,
            name=person["name"],
            phone=person["phone"],
            address=person["address"],
            note=person.get("note", ""),
        )
        seen = [
            _machine(len(machines) + n, number, customer.name, data, given)
            for n, data in enumerate(person["machines"], 1)
        ]
        machines += [kept for kept, _ in seen]
        first = min(kept.seen for kept, _ in seen)
        bench.put(first, "ines", Step(f"{customer.name} written down.", (customer, *(record for _, record in seen))))
    return machines


def _machine(number: int, customer: int, owner: str, data: dict[str, object], given: Sources) -> tuple[Fleet, Machine]:
    weeks, first = int(data["weeks"]), float(data["first"])
    seen = at(-5 * weeks - number % 5, f"{8 + number % 8}:{7 * number % 60:02d}")
    replaced = NOW - timedelta(weeks=int(data["meter"])) if "meter" in data else None
    model = given.models[str(data["model"])]
    record = Machine(
        id=number,
        customer=customer,
        model=model.id,
        serial=str(data["serial"]),
        layout=model.layout,
        readings=(HourReading(at=seen, hours=first),),
        duty=Duty(data.get("duty", "normal")),
        first_seen=seen,
        first_seen_used=bool(data.get("used", False)),
        note=str(data.get("note", "")),
    )
    kept = Fleet(
        number, customer, owner, model.id, record.serial, seen, first, float(data["week"]), replaced, last=first
    )
    return kept, record

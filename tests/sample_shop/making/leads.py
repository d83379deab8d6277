"""How long parts really take, by supplier: what was promised, what came of it, and what was back-ordered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from random import Random

from sample_shop.slide import working_day
from shopboard.records import Settings

from .hours import TODAY, at, day_of


@dataclass(frozen=True)
class Sent:
    """An order's fate: the date promised, when it comes; if back-ordered, when that was told and to which date."""

    promised: date
    comes: datetime
    told: datetime
    new_date: date | None = None


def order(settings: Settings, supplier: str, now: datetime, rng: Random) -> Sent:
    """What becomes of an order placed now. Outerhay has grown slower: a tenth a quarter over the three years."""
    day = day_of(now)
    if supplier == "shelf":
        return Sent(working_day(TODAY + day), now, now)
    usual = next(s.usual_days for s in settings.suppliers if s.id == supplier)
    slower = 1 + max(0.0, (day + 780) / 780) * 0.55 if supplier == "outerhay" else 1.0
    spread = {"cinder": 0.35, "ballast": 0.4, "northwharf": 0.4, "outerhay": 0.38}[supplier]
    days = max(1, round(usual * slower * rng.lognormvariate(-0.05, spread)))
    back = rng.random() < {"northwharf": 0.05, "outerhay": 0.14}.get(supplier, 0.01)
    promised = working_day(TODAY + day + max(1, usual))
    hour = f"{rng.choice((8, 9, 9, 10, 11, 13))}:{rng.randrange(60):02d}"
    told = at(day + max(1, min(usual, days)), "11:20")
    if back:
        wait = days + rng.randrange(4, 15)
        return Sent(promised, at(day + wait, hour), told, working_day(TODAY + day + max(wait - 1, usual + 1)))
    return Sent(promised, at(day + days, hour), told)


def reference(supplier: str, rng: Random) -> str:
    """Their number for our order; our own shelf has none."""
    letters = {"cinder": "CL", "ballast": "BR", "northwharf": "NW", "outerhay": "OI"}
    return f"{letters[supplier]}{rng.randrange(10000, 99999)}" if supplier in letters else ""

"""Who signs what a command does, and whether it is them."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime

from shopboard.records import Refused, Settings
from shopboard.shop.guards import either
from shopboard.store import Place, own_folder
from shopboard.store.pins import Pins

#: Holds a PIN for commands that nobody sits before.
PIN = "SHOPBOARD_PIN"


def signer(settings: Settings, named: str) -> str:
    """Who signs: whoever is named, or the only person of the shop. Raises Refused where that cannot be told."""
    people = settings.people
    if named:
        if people and settings.person(named) is None:
            raise Refused(f"nobody called {named} works here", f"shop.toml knows {either(p.id for p in people)}")
        return named
    if len(people) == 1:
        return people[0].id
    if not people:
        raise Refused("every change is signed, and shop.toml names nobody", "say --as with a name")
    raise Refused("every change is signed", f"say --as {either(person.id for person in people)}")


def proved(settings: Settings, named: str, place: Place, now: datetime, ask: Callable[[str], str] | None) -> str:
    """Who signs, once their PIN was right if they have one; `ask` asks for it unseen. Raises Refused."""
    by = signer(settings, named)
    pins = Pins(own_folder(place))
    if pins.has(by):
        given = os.environ.get(PIN)
        if given is None and ask is None:
            raise Refused(f"{by} has a PIN", f"run it in a terminal, or set {PIN}")
        pins.check(by, given if given is not None else ask(f"PIN of {by}: ") if ask else "", now)
    return by

"""Who signs what a command does."""

from __future__ import annotations

from shopboard.records import Refused, Settings
from shopboard.shop.guards import either


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

"""The shop's own list of parts, asked: what a number is, what is sent instead, what fits this machine."""

from __future__ import annotations

from typing import NamedTuple

from shopboard.records import CataloguePart, Machine, Refused, ShopState

from . import said
from .guards import either


def known(state: ShopState, number: str) -> CataloguePart | None:
    """The part with this number; case and blanks do not count. None where parts.toml has none."""
    exact = state.catalogue.get(number.strip())
    if exact is not None:
        return exact
    wanted = said.same(number)
    return next((part for part in state.catalogue.values() if said.same(part.number) == wanted), None)


def sent_instead(state: ShopState, part: CataloguePart) -> CataloguePart:
    """The part that is sent when this one is ordered: itself, or the last of its substitutes."""
    while part.replaced_by and part.replaced_by in state.catalogue:
        part = state.catalogue[part.replaced_by]
    return part


def for_machine(state: ShopState, part: CataloguePart, machine: Machine | None) -> CataloguePart:
    """The part that is sent, if it fits the machine; refused otherwise, with the number that does."""
    sent = sent_instead(state, part)
    if machine is None or sent.fits(machine.model, machine.serial) is not False:
        return sent
    others = [
        other.number
        for other in state.catalogue.values()
        if other.called(sent.name) and other.fits(machine.model, machine.serial) and not other.replaced_by
    ]
    fits = sent.break_words if sent.break_words and (not sent.models or machine.model in sent.models) else ""
    this = f"{machine.model} {machine.serial}".strip()
    raise Refused(
        f"{sent.number} fits {fits or either(sent.models)}, and this machine is {this}",
        f"take {either(others)}" if others else "look for the number of this machine",
    )


class Choice(NamedTuple):
    """The part a name stands for on a machine, or (None) why none can be said."""

    part: CataloguePart | None
    why_not: str = ""


def by_name(state: ShopState, name: str, machine: Machine) -> Choice:
    """The one part of this name that fits the machine, a part for its model before one for all."""
    named = [part for part in state.catalogue.values() if part.called(name)]
    fitting = {part.number: part.fits(machine.model, machine.serial) for part in named}
    sure = {sent_instead(state, part).number for part in named if fitting[part.number]}
    own = {n for n in sure if machine.model in state.catalogue[n].models}
    found = sorted(own or sure)
    if len(found) == 1:
        return Choice(state.catalogue[found[0]])
    if found:
        return Choice(None, f"{either(found)} go by that name")
    unread = sorted(number for number, fits in fitting.items() if fits is None)
    if unread:
        return Choice(None, f"the serial decides between {either(unread)}: read its plate")
    return Choice(None, "parts.toml has none for this machine" if named else "parts.toml has none of that name")

"""Which customer a row speaks of: by the digits of the telephone number and by name, and never by a guess."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from shopboard.records import Customer
from shopboard.shop.said import digits, same

from .outcome import NotTaken

#: Fewer digits are no telephone number; names this alike (0 to 100) with the same number are one person's.
SHORTEST, ALIKE = 5, 85


class Known:
    """The customers known so far, those of the shop and those of the rows before; found by telephone and by name."""

    def __init__(self, customers: Iterable[Customer]) -> None:
        self._by_id: dict[int, Customer] = {}
        self._names: defaultdict[str, list[int]] = defaultdict(list)
        self._phones: defaultdict[str, list[int]] = defaultdict(list)
        for customer in customers:
            self.add(customer)

    def add(self, customer: Customer) -> None:
        """Know this customer too, or what changed about them."""
        before = self._by_id.get(customer.id)
        self._by_id[customer.id] = customer
        if before is None or same(before.name) != same(customer.name):
            self._names[same(customer.name)].append(customer.id)
        phone = number(customer.phone)
        if phone and (before is None or number(before.phone) != phone):
            self._phones[phone].append(customer.id)

    def find(self, name: str, phone: str) -> tuple[Customer | None, str]:
        """The customer of this name and telephone number (None: nobody yet), and what must be told about it.

        Raises NotTaken where it cannot be told who is meant.
        """
        digits_ = number(phone)
        named = [self._by_id[id] for id in self._names.get(same(name), ())] if name else []
        if not digits_:
            return _only(named, name), ""
        phoned = [self._by_id[id] for id in self._phones.get(digits_, ())]
        for customer in phoned:
            if customer in named or not name:
                return customer, ""
        for customer in phoned:
            if _alike(customer.name, name):
                return customer, f"“{name}” is taken for {customer.name}, who has the same number"
        if phoned:
            who = f"{phoned[0].name}'s (customer {phoned[0].id})"
            raise NotTaken(f"the number {phone} is {who}: put the name or the number right")
        silent = [customer for customer in named if not number(customer.phone)]
        if silent:
            return _only(silent, name), ""
        told = f"kept apart from customer {named[0].id} of the same name, who has another number" if named else ""
        return None, told

    def owner(self, name: str, phone: str) -> tuple[Customer, str]:
        """The customer whose machine a row speaks of. Raises NotTaken where there is none, or it cannot be told."""
        digits_ = number(phone)
        named = [self._by_id[id] for id in self._names.get(same(name), ())] if name else []
        if len(named) == 1 and digits_ and not self._phones.get(digits_) and number(named[0].phone):
            return named[0], f"{named[0].name} has another telephone number here: taken by name"
        found, told = self.find(name, phone)
        if found is None:
            raise NotTaken(f"there is no customer {name or phone} here: import customers first, or put the name right")
        return found, told


def number(phone: str) -> str:
    """The digits of a telephone number; "" for what is too short to be one."""
    found = digits(phone)
    return found if len(found) >= SHORTEST else ""


def _only(named: list[Customer], name: str) -> Customer | None:
    if len(named) > 1:
        both = " and ".join(f"customer {one.id}" for one in named[:2])
        raise NotTaken(f"{name} may be {both}: add the telephone number")
    return named[0] if named else None


def _alike(first: str, second: str) -> bool:
    from rapidfuzz import fuzz, utils

    return fuzz.token_sort_ratio(first, second, processor=utils.default_process) >= ALIKE

"""Which machine a row speaks of, which model that is, and how a reading of its hour meter fits among the others."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from shopboard.records import HourReading, Layout, Machine, Model
from shopboard.shop.meter import MOST_HOURS, SLACK
from shopboard.shop.said import plain, same

from .outcome import NotTaken

#: The same figure within this time is the same reading.
_SAME = timedelta(days=1)


class Machines:
    """The machines known so far, found by serial number, or by owner and model."""

    def __init__(self, machines: Iterable[Machine]) -> None:
        self.by_id: dict[int, Machine] = {}
        self._serials: defaultdict[str, list[int]] = defaultdict(list)
        self._owners: defaultdict[int, list[int]] = defaultdict(list)
        for machine in machines:
            self.add(machine)

    def add(self, machine: Machine) -> None:
        """Know this machine too, or what changed about it; owner and serial of a known one stay."""
        if machine.id not in self.by_id:
            self._owners[machine.customer].append(machine.id)
            if same(machine.serial):
                self._serials[same(machine.serial)].append(machine.id)
        self.by_id[machine.id] = machine

    def with_serial(self, serial: str) -> list[Machine]:
        """Those with this serial number."""
        return [self.by_id[id] for id in self._serials.get(same(serial), ())] if same(serial) else []

    def of(self, customer: int, model: str = "") -> list[Machine]:
        """Those of a customer, and of a model if one is named."""
        found = (self.by_id[id] for id in self._owners.get(customer, ()))
        return [machine for machine in found if not model or machine.model == model]


class Models:
    """The models of models.toml and those that machines here have without standing in it, found by id or name however
    it is written."""

    def __init__(self, models: Mapping[str, Model], machines: Iterable[Machine]) -> None:
        unlisted = {one.model: one.layout for one in machines if one.unlisted and one.model not in models}
        own = {id: Model(id=id, name=id, layout=layout) for id, layout in unlisted.items()}
        self._models = {**own, **models}
        self._listed = models.keys()
        self._names: defaultdict[str, list[str]] = defaultdict(list)
        for model in self._models.values():
            for name in {_bare(model.id), _bare(model.name)}:
                self._names[name].append(model.id)

    def listed(self, model: Model) -> bool:
        """Whether it stands in models.toml."""
        return model.id in self._listed

    def find(self, written: str, layout: str = "") -> Model:
        """The model; with a `layout`, a new one that models.toml does not have. Raises NotTaken with the nearest one
        where there is none, or two are called so."""
        found = self._names.get(_bare(written), [])
        if len(found) == 1:
            return self._models[found[0]]
        if not found and layout:
            return Model(id=written, name=written, layout=_layout(layout))
        if found:
            raise NotTaken(f"“{written}” may be the model {' or '.join(found)}")
        raise NotTaken(f"there is no model “{written}” in models.toml{self._nearest(written)}")

    def _nearest(self, written: str) -> str:
        from rapidfuzz import fuzz, process

        names = {id: model.name for id, model in self._models.items()}
        best = process.extractOne(written, names, scorer=fuzz.WRatio, score_cutoff=70)
        return f"; did you mean {best[0]} ({best[2]})?" if best else ": add it there first"


def _layout(written: str) -> Layout:
    for layout in Layout:
        if _bare(layout) == _bare(written):
            return layout
    raise NotTaken(f"“{written}” is no layout: write {' or '.join(Layout)}")


def _bare(name: str) -> str:
    return "".join(char for char in same(name) if char.isalnum())


def with_reading(readings: tuple[HourReading, ...], hours: Decimal, at: datetime) -> tuple[HourReading, ...]:
    """The readings with one more where it belongs in time, unless it stands there already.

    Raises NotTaken where the meter cannot have shown that between what it showed before and after.
    """
    if hours > Decimal(MOST_HOURS):
        raise NotTaken(f"{hours} h is more than any machine has run")
    ordered = sorted(readings, key=lambda reading: reading.at)
    value = float(hours)
    if any(abs(reading.at - at) < _SAME and reading.hours == value for reading in ordered):
        return readings
    place = bisect_right(ordered, at, key=lambda reading: reading.at)
    before = ordered[place - 1] if place else None
    after = ordered[place] if place < len(ordered) else None
    if before and before.hours > value:
        raise NotTaken(
            f"{plain(value)} h cannot be: the meter showed {_showed(before)}; if it was replaced, enter it by hand"
        )
    if before and (ran := value - before.hours) > (at - before.at).total_seconds() / 3600 + SLACK:
        raise NotTaken(
            f"{plain(value)} h cannot be: that is {plain(ran)} h more than {_showed(before)}, and the time is shorter"
        )
    if after and not after.new_meter and value > after.hours:
        raise NotTaken(f"{plain(value)} h cannot be: later the meter showed {_showed(after)}")
    return (*ordered[:place], HourReading(at=at, hours=value), *ordered[place:])


def _showed(reading: HourReading) -> str:
    return f"{plain(reading.hours)} h on {reading.at:%-d %B %Y}"

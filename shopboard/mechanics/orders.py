"""Orders: how often a turn of the engine each part of a machine shakes, and which of them cannot be told apart.

Frequencies in Hz, engine speed in rev/s. Orders of engine, shaft and pump are exact; those behind the hydrostat
move with stroke, leakage and slip, so they carry a tolerance of their own.
Source: kinematics; firing order = cylinders/(strokes/2); a joint shakes at 2× (Carvill §2.4.3); pistons at n and 2n.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from .model_data import ModelData

#: How far the drive's speed may be from what full stroke gives, as a standard error. Common practice, no source.
DRIVE_ERROR = 0.03


class Source(NamedTuple):
    """One thing that shakes: `order` per engine turn, `frequency` [Hz] at the speed asked for, `part` the kind of
    part (engine, shaft, pump, belt, motor, gears, wheel), `error` its own standard error as a share."""

    name: str
    order: float
    frequency: float
    part: str
    error: float = 0.0


class Group(NamedTuple):
    """Sources that shake at the same frequency within what can be told apart, and the check that separates them."""

    sources: tuple[Source, ...]
    frequency: float
    separate: str

    @property
    def name(self) -> str:
        """The group in words."""
        return " or ".join(source.name for source in self.sources)


def sources(data: ModelData, speed: float, gear: str = "", stroke: float = 1.0) -> tuple[tuple[Source, ...], list[str]]:
    """Everything on this machine that shakes at engine `speed` [rev/s] in `gear`, lowest first; and one line for each
    thing that cannot be placed because the model lacks a number. `stroke` is the share of full stroke driven with.

    >>> found, _ = sources(ModelData({"pistons": 9, "joints": 2, "cylinders": 3}), 2600 / 60)
    >>> [(s.name, round(s.frequency)) for s in found if s.part in ("pump", "shaft")]
    [('drive shaft 1×', 43), ('joints 2×', 87), ('pump pistons 9×', 390), ('pump pistons 18×', 780)]
    """
    found = _engine(data, speed)
    missing: list[str] = []
    pump = data.find("pump_ratio") or 1.0
    if data.find("joints"):
        found += [_at("drive shaft 1×", 1.0, speed, "shaft"), _at("joints 2×", 2.0, speed, "shaft")]
    found += _pistons(data.find("pistons"), "pump", pump, speed, 0.0, missing)
    found += _belt(data, speed)
    found += _driven(data, speed, gear, pump * stroke, missing)
    return tuple(sorted(found, key=lambda s: s.frequency)), missing


def _at(name: str, order: float, speed: float, part: str, error: float = 0.0) -> Source:
    return Source(name, order, order * speed, part, error)


def _engine(data: ModelData, speed: float) -> list[Source]:
    found = [_at("engine 1×", 1.0, speed, "engine"), _at("engine 2×", 2.0, speed, "engine")]
    cylinders = data.find("cylinders")
    if cylinders:
        firing = cylinders / ((data.find("strokes") or 4.0) / 2)
        found = [s for s in found if s.order != firing]
        found.append(_at(f"engine firing {firing:g}×", firing, speed, "engine"))
    return found


def _pistons(
    pistons: float | None, unit: str, order: float, speed: float, error: float, missing: list[str]
) -> list[Source]:
    if not pistons:
        missing.append(f"{unit} pistons: the model gives no number; 7 or 9 are common")
        return []
    return [
        _at(f"{unit} pistons {times * pistons:g}×", times * pistons * order, speed, unit, error) for times in (1, 2)
    ]


def _belt(data: ModelData, speed: float) -> list[Source]:
    length, pulley = data.find("belt_length"), data.find("belt_pulley")
    if not length or not pulley:
        return []
    order = math.pi * pulley / length
    return [_at("belt 1×", order, speed, "belt", 0.01), _at("belt 2×", 2 * order, speed, "belt", 0.01)]


def _driven(data: ModelData, speed: float, gear: str, pump: float, missing: list[str]) -> list[Source]:
    """Motor, gears and wheels, which turn as fast as the oil lets them."""
    volumes = data.find("pump_displacement"), data.find("motor_displacement")
    if not all(volumes):
        missing.append("motor, gears and wheels: the model gives no displacements")
        return []
    motor = pump * float(volumes[0] or 0) / float(volumes[1] or 1)
    number = data.find("motor_pistons") or data.find("pistons")
    found = [_at("motor 1×", motor, speed, "motor", DRIVE_ERROR)]
    found += _pistons(number, "motor", motor, speed, DRIVE_ERROR, missing)
    output = motor / data.range_ratio(gear)
    for name, order in (("range", motor), ("final", output)):
        teeth = data.find(f"{name}_teeth")
        if teeth:
            found.append(_at(f"{name} gear mesh {teeth:g}×", teeth * order, speed, "gears", DRIVE_ERROR))
        else:
            missing.append(f"{name} gear mesh: the model gives no teeth")
    final = data.find("final_ratio")
    if final:
        wheel = output / final
        found.append(_at("drive wheel 1×", wheel, speed, "wheel", DRIVE_ERROR))
        lugs = data.find("tyre_lugs")
        found += [_at(f"tyre lugs {lugs:g}×", lugs * wheel, speed, "wheel", DRIVE_ERROR)] if lugs else []
    return found


_SEPARATE = {
    frozenset(("engine", "shaft")): "part the shaft from the engine and run the engine alone: what stays is the engine",
    frozenset(("engine", "pump")): "run the engine with the pump parted from it: what stays is the engine",
    frozenset(("engine", "belt")): "run the engine with the belt off: what stays is the engine",
    frozenset(("shaft", "pump")): "look at the joints' angles and play by hand: a pump hums in any gear, unloaded too",
    frozenset(("pump", "motor")): "ease the pedal at the same engine speed: what falls with ground speed is the motor",
    frozenset(("motor", "gears")): "change the range at the same pedal: what keeps its frequency is the motor",
    frozenset(("gears", "wheel")): "turn the wheel on a stand by hand and feel for backlash and run-out",
}
_ANYHOW = "hold the engine speed and change the pedal or the range: what follows ground speed is behind the hydrostat"


def groups(found: tuple[Source, ...], resolution: float) -> tuple[Group, ...]:
    """The sources as groups that a spectrum of `resolution` [Hz] cannot tell apart, lowest first.

    Sources on the engine's speed coincide within the resolution (a wrong engine speed moves them all alike); those
    behind the hydrostat also within twice their own error.
    """
    joined: list[list[Source]] = []
    for source in sorted(found, key=lambda s: s.frequency):
        last = joined[-1][-1] if joined else None
        if last and source.frequency - last.frequency <= max(2 * resolution, 2 * _apart(last, source)):
            joined[-1].append(source)
        else:
            joined.append([source])
    return tuple(_group(members) for members in joined)


def _apart(one: Source, other: Source) -> float:
    """Standard error [Hz] of how far apart two sources are: those behind the hydrostat move together."""
    if one.error and other.error:
        return abs(one.error * one.frequency - other.error * other.frequency)
    return one.error * one.frequency + other.error * other.frequency


def _group(members: list[Source]) -> Group:
    parts = list(dict.fromkeys(s.part for s in members))
    separate = ""
    if len(parts) > 1:
        separate = _SEPARATE.get(frozenset(parts[:2]), _ANYHOW)
    elif len(members) > 1:
        separate = _ANYHOW
    return Group(tuple(members), sum(s.frequency for s in members) / len(members), separate)

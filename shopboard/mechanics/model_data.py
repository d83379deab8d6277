"""The numbers of a model that the calculations know by name, and what can still be said without one.

A shop types them in its models file as quantities with units (`pump_displacement = "21 cm3/rev"`), counts and ratios
as plain numbers (`pistons = 9`). Names that the list does not hold are kept aside, never an error.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from . import units

COUNT, RATIO, TEXT, GRADE_NAME = "count", "ratio", "text", "oil grade"


class Datum(NamedTuple):
    """One name: `kind` is a dimension of the unit table, or count, ratio, text, or oil grade; `usual` is taken (and
    said to be taken) when the model does not give it; `without` says what can still be said when it is missing."""

    kind: str
    meaning: str
    usual: str = ""
    without: str = ""


_CAN_ORDERS = "the orders can still be named, not their frequencies"
_CAN_RATIO = "leakage can still be compared between this shop's own machines, not with rated efficiency"

MODEL_DATA: dict[str, Datum] = {
    # hydrostat
    "pump_displacement": Datum("displacement", "pump, one turn at full plate angle",
                               without="speeds cannot be computed; runs can still be compared hot with cold"),
    "motor_displacement": Datum("displacement", "motor, one turn", without="speeds cannot be computed"),
    "pistons": Datum(COUNT, "pistons in the pump", without="the piston order is unknown; 7 or 9 are common"),
    "motor_pistons": Datum(COUNT, "pistons in the motor (as the pump unless given)"),
    "piston_bore": Datum("length", "diameter of one piston bore"),
    "pitch_radius": Datum("length", "radius of the circle the pistons sit on"),
    "swash_angle": Datum("angle", "greatest plate angle of the pump"),
    "motor_angle": Datum("angle", "plate angle of the motor"),
    "radial_clearance": Datum("length", "piston to bore, new, on the radius"),
    "pump_ratio": Datum(RATIO, "pump turns for one engine turn (belt or gear)", usual="1"),
    "rated_speed": Datum("rotation", "engine, rated", without="speeds must be given with each reading"),
    "idle_speed": Datum("rotation", "engine, low idle"),
    "charge_pressure": Datum("pressure", "charge circuit, hot, at rated speed", usual="10 bar"),
    "charge_least": Datum("pressure", "charge pressure below which the unit must not run"),
    "relief_pressure": Datum("pressure", "loop relief setting",
                             without="it cannot be said whether a run stayed below relief"),
    "case_drain_limit": Datum("flow", "greatest case drain flow at rated speed",
                              without="case drain can be noted, not judged"),
    "rated_pressure": Datum("pressure", "loop pressure at which rated efficiency holds", usual="140 bar"),
    "rated_efficiency": Datum("fraction", "volumetric efficiency, new, pump and motor together, at rated speed and "
                              "pressure", without=_CAN_RATIO),
    "rated_viscosity": Datum("kinematic viscosity", "oil at which rated efficiency holds", usual="20 cSt"),
    "mechanical_efficiency": Datum("fraction", "motor and gears together, torque", usual="90 %"),
    # oil
    "oil_grade": Datum(GRADE_NAME, "ISO viscosity grade that the maker asks for, such as ISO VG 46", usual="46"),
    "oil_index": Datum(RATIO, "viscosity index of that oil", usual="100"),
    "oil_density": Datum("density", "density of that oil", usual="870 kg/m3"),
    "viscosity_least": Datum("kinematic viscosity", "thinnest oil the unit may work with", usual="10 cSt"),
    "viscosity_most": Datum("kinematic viscosity", "thickest oil the unit may start with", usual="1000 cSt"),
    "film_rise": Datum("temperature rise", "leakage film above the sump", usual="10 K"),
    # gears and wheels; range_ratio_low, range_ratio_high …: see RANGES
    "final_ratio": Datum(RATIO, "gearbox output turns for one wheel turn", without="ground speed cannot be computed"),
    "rolling_radius": Datum("length", "loaded radius of a drive wheel", without="ground speed cannot be computed"),
    "mass": Datum("mass", "machine with operator, ready to work", without="give it with the runs"),
    "rolling_resistance": Datum("fraction", "rolling resistance over weight, on short grass", usual="6 %"),
    "tyre_slip": Datum("fraction", "slip of the drive tyres on the flat", usual="2 %"),
    "range_teeth": Datum(COUNT, "teeth of the pinion on the motor shaft", without=_CAN_ORDERS),
    "final_teeth": Datum(COUNT, "teeth of the pinion on the gearbox output", without=_CAN_ORDERS),
    "tyre_lugs": Datum(COUNT, "lugs round a drive tyre"),
    # engine, shaft and joints
    "cylinders": Datum(COUNT, "engine cylinders", without="the firing order is unknown"),
    "strokes": Datum(COUNT, "strokes of a working cycle, 2 or 4", usual="4"),
    "joints": Datum(COUNT, "universal joints in the drive shaft", usual="0"),
    "shaft_length": Datum("length", "drive shaft between joint centres", without="whirl and shims cannot be computed"),
    "shaft_outer": Datum("length", "outside diameter of the drive shaft"),
    "shaft_inner": Datum("length", "bore of the drive shaft, 0 mm if solid", usual="0 mm"),
    "joint_least": Datum("angle", "least working angle of a joint, so that its needles move", usual="0.5 deg"),
    "joint_most": Datum("angle", "greatest working angle of a joint", usual="6 deg"),
    "spline_travel": Datum("length", "travel of the slip spline", without="the spline cannot be judged"),
    "spline_used": Datum("length", "how far the spline is pushed in, at rest"),
    "engine_mounts": Datum("distance", "front to rear engine mounts, along the machine"),
    "engine_rear_mount_to_joint": Datum("length", "rear engine mount to the front joint, along the machine"),
    "gearbox_mounts": Datum("distance", "front to rear mounts of the driven unit, along the machine"),
    "gearbox_front_mount_to_joint": Datum("length", "front mount of the driven unit to the rear joint"),
    # belt
    "belt_length": Datum("distance", "drive belt, round"),
    "belt_pulley": Datum("length", "pitch diameter of the belt's engine pulley"),
    # linkage
    "control_arm": Datum("length", "pivot of the unit's control arm to the link"),
    "link_pitch": Datum("length", "thread pitch of the link (both ends together, if right and left hand)"),
    "control_travel": Datum("angle", "control arm, neutral to full plate angle"),
}  # fmt: skip

#: Any number of ranges: the name after the prefix is the gear's name, "range_ratio_low" = 2.9 (motor turns for one
#: turn of the gearbox output).
RANGES = "range_ratio_"


class MissingDatum(ValueError):
    """A number of the model that a calculation needs and does not have: its name and what can still be said."""

    def __init__(self, name: str) -> None:
        datum = MODEL_DATA.get(name, Datum("", name.replace("_", " ")))
        self.name, self.without = name, datum.without
        tail = f"; {datum.without}" if datum.without else ""
        super().__init__(f"the model has no {name} ({datum.meaning}){tail}")


def read_datum(name: str, given: str | float | int) -> float | str:
    """The value of one datum in SI (counts and ratios plain, text as it is). Raises UnitError naming the datum.

    >>> read_datum("piston_bore", "17 mm"), read_datum("pistons", 9)
    (0.017, 9.0)
    """
    kind = RATIO if name.startswith(RANGES) else MODEL_DATA[name].kind
    text = str(given)
    try:
        if kind == TEXT:
            return text
        if kind == GRADE_NAME:
            return units.number(text.upper().replace("ISO", "").replace("VG", "").replace("-", " "))
        if kind == COUNT:
            return float(units.count(text, least=0, most=1000))
        if kind == RATIO:
            return units.ratio(text)
        return units.parse(text, kind, zero=name in _MAY_BE_ZERO).si
    except units.UnitError as error:
        raise units.UnitError(f"{name}: {error}") from None


_MAY_BE_ZERO = {"shaft_inner", "joint_least", "spline_used", "film_rise", "tyre_slip"}


class ModelData:
    """The numbers of one model, read when asked for. `assumed` collects the usual values that had to stand in."""

    def __init__(self, data: Mapping[str, str | float | int]) -> None:
        self._data = data
        self.assumed: dict[str, str] = {}

    def has(self, name: str) -> bool:
        """Whether the model gives this number itself."""
        return name in self._data

    def find(self, name: str) -> float | None:
        """The number in SI, or its usual value (then noted in `assumed`), or None. Raises UnitError if unreadable."""
        given: str | float | int | None = self._data.get(name)
        if given is None and not name.startswith(RANGES) and MODEL_DATA[name].usual:
            given = self.assumed[name] = MODEL_DATA[name].usual
        return None if given is None else float(read_datum(name, given))

    def need(self, name: str) -> float:
        """The number in SI. Raises MissingDatum if neither the model nor common practice gives one."""
        found = self.find(name)
        if found is None:
            raise MissingDatum(name)
        return found

    def range_ratio(self, gear: str = "") -> float:
        """Motor turns for one turn of the gearbox output in `gear`; without any ranges it is 1.

        Raises UnitError naming the gears there are.
        """
        names = self.gears()
        if not names:
            return 1.0
        if not gear and len(names) == 1:
            gear = names[0]
        if gear not in names:
            said = f"there is no gear '{gear}'" if gear else "say in which gear"
            raise units.UnitError(f"{said}: the model has {', '.join(names)}")
        return self.need(RANGES + gear)

    def gears(self) -> tuple[str, ...]:
        """The names of the ranges the model has."""
        return tuple(name.removeprefix(RANGES) for name in self._data if name.startswith(RANGES))

    def assumptions(self) -> tuple[str, ...]:
        """A sentence that lists the usual values which stood in for missing ones; none if the model gave all."""
        if not self.assumed:
            return ()
        named = "; ".join(f"{name.replace('_', ' ')} {value}" for name, value in self.assumed.items())
        return (f"usual values, not this model's: {named}",)


def faults(data: Mapping[str, str | float | int]) -> tuple[str, ...]:
    """What is wrong with a model's data, one line each; names that no calculation knows are not faults.

    >>> faults({"piston_bore": "17", "colour": "green"})
    ("piston_bore: '17' has no unit; write it like 38 mm",)
    """
    found = []
    for name, given in data.items():
        if name in MODEL_DATA or name.startswith(RANGES):
            try:
                read_datum(name, given)
            except units.UnitError as error:
                found.append(str(error))
    return tuple(found)

"""The units the shop may type, by what they measure, and in which unit each is shown.

A spelling maps to the name Pint knows it by; Pint does the converting. Compared with case kept, because
`mm` is not `MM`; the few spellings people capitalise freely (RPM, PSI, HP, LB …) are listed both ways.
"""

from __future__ import annotations

from typing import NamedTuple


class Dimension(NamedTuple):
    """What a quantity measures: `base` is the SI unit inside, `metric` and `us` the units shown, `example` how to
    type one, and `least` … `most` the sizes (in `base`) that make sense in a workshop."""

    base: str
    metric: str
    us: str
    example: str
    least: float
    most: float
    spellings: dict[str, str]


_LENGTH = {
    "mm": "mm", "cm": "cm", "m": "m", "km": "km", "um": "um", "µm": "um", "μm": "um", "micron": "um",
    "in": "inch", "inch": "inch", "inches": "inch", '"': "inch", "thou": "thou", "ft": "foot", "yd": "yard",
}  # fmt: skip
_VOLUME = {
    "cm3": "cm^3", "cm³": "cm^3", "cc": "cm^3", "mL": "mL", "ml": "mL", "L": "L", "l": "L", "m3": "m^3", "mm3": "mm^3",
    "in3": "inch^3", "in³": "inch^3", "cu in": "inch^3", "gal": "gallon", "qt": "quart",
}  # fmt: skip
_TURN = ("/rev", "/turn", "/r")
_ROTATION = {
    "rpm": "rpm", "RPM": "rpm", "r/min": "rpm", "rev/min": "rpm", "1/min": "rpm", "min-1": "rpm",
    "rev/s": "rps", "r/s": "rps", "rad/s": "rad/s",
}  # fmt: skip
_PRESSURE = {
    "bar": "bar", "mbar": "mbar", "Pa": "Pa", "hPa": "hPa", "kPa": "kPa", "MPa": "MPa", "GPa": "GPa",
    "psi": "psi", "PSI": "psi", "ksi": "kpsi", "Mpsi": "Mpsi", "N/mm2": "MPa",
}  # fmt: skip
_FLOW = {
    "L/min": "L/min", "l/min": "L/min", "lpm": "L/min", "mL/min": "mL/min", "ml/min": "mL/min", "m3/s": "m^3/s",
    "cm3/min": "mL/min", "cm3/s": "mL/s", "L/s": "L/s",
    "gpm": "gallon/min", "gal/min": "gallon/min", "GPM": "gallon/min", "in3/min": "inch^3/min",
}  # fmt: skip
_TORQUE = {
    "N m": "N*m", "N.m": "N*m", "N*m": "N*m", "N·m": "N*m", "Nm": "N*m",
    "lbf ft": "lbf*foot", "ft lbf": "lbf*foot", "lb ft": "lbf*foot", "ft lb": "lbf*foot", "lbf in": "lbf*inch",
    "in lbf": "lbf*inch", "in lb": "lbf*inch", "lb in": "lbf*inch",
}  # fmt: skip
_SPEED = {
    "m/s": "m/s", "mm/s": "mm/s", "mm/min": "mm/min", "cm/s": "cm/s", "m/min": "m/min", "km/h": "km/h", "kph": "km/h",
    "mph": "mph", "ft/s": "foot/s", "ft/min": "foot/min", "in/s": "inch/s", "in/min": "inch/min",
}  # fmt: skip
_KINEMATIC = {"mm2/s": "mm^2/s", "mm²/s": "mm^2/s", "cSt": "cSt", "St": "stokes", "m2/s": "m^2/s"}
_DYNAMIC = {
    "Pa s": "Pa*s", "Pa.s": "Pa*s", "Pa*s": "Pa*s", "Pa·s": "Pa*s", "mPa s": "mPa*s", "mPa.s": "mPa*s",
    "mPa*s": "mPa*s", "mPa·s": "mPa*s", "cP": "cP", "P": "poise",
}  # fmt: skip
_DENSITY = {
    "kg/m3": "kg/m^3", "kg/m³": "kg/m^3", "g/cm3": "g/cm^3", "kg/L": "kg/L", "kg/l": "kg/L",
    "lb/in3": "lb/inch^3", "lb/ft3": "lb/foot^3",
}  # fmt: skip
_TIME = {
    "s": "s", "sec": "s", "ms": "ms", "min": "min", "h": "hour", "hr": "hour", "hrs": "hour", "hours": "hour",
    "d": "day", "day": "day", "days": "day", "week": "week", "weeks": "week",
}  # fmt: skip
_ANGLE = {"deg": "deg", "°": "deg", "degrees": "deg", "rad": "rad", "mrad": "mrad", "turn": "turn", "turns": "turn"}
_TEMPERATURE = {
    "degC": "degC", "°C": "degC", "C": "degC", "degF": "degF", "°F": "degF", "F": "degF", "K": "kelvin",
}  # fmt: skip
_RISE = {"K": "kelvin", "degC": "kelvin", "°C": "kelvin", "C": "kelvin"}
_RISE |= dict.fromkeys(("degF", "°F", "F"), "delta_degF")
_MASS = {"kg": "kg", "g": "g", "t": "tonne", "lb": "lb", "lbs": "lb", "LB": "lb", "oz": "oz"}
_POWER = {"kW": "kW", "W": "W", "hp": "hp", "HP": "hp", "PS": "metric_horsepower"}
_FORCE = {"N": "N", "kN": "kN", "lbf": "lbf", "daN": "daN"}

DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension("m", "mm", "in", "38 mm", 1e-7, 1e5, _LENGTH),
    "distance": Dimension("m", "m", "ft", "20 m", 1e-7, 1e6, _LENGTH),
    "volume": Dimension("m^3", "L", "in3", "2 L", 1e-12, 1e3, _VOLUME),
    "displacement": Dimension(
        "m^3", "cm3/rev", "in3/rev", "21 cm3/rev", 1e-10, 0.1,
        _VOLUME | {s + turn: p for s, p in _VOLUME.items() for turn in _TURN},
    ),
    "rotation": Dimension("rps", "rpm", "rpm", "2600 rpm", 1e-4, 1e4, _ROTATION),
    "frequency": Dimension("Hz", "Hz", "Hz", "43 Hz", 1e-4, 1e6, {"Hz": "Hz", "kHz": "kHz", "1/s": "Hz"}),
    "pressure": Dimension("Pa", "bar", "psi", "200 bar", 1.0, 1e9, _PRESSURE),
    "modulus": Dimension("Pa", "GPa", "Mpsi", "207 GPa", 1e6, 1e13, _PRESSURE),
    "flow": Dimension("m^3/s", "L/min", "gpm", "80 L/min", 1e-14, 10.0, _FLOW),
    "small flow": Dimension("m^3/s", "mL/min", "in3/min", "60 mL/min", 1e-14, 10.0, _FLOW),
    "torque": Dimension("N*m", "N·m", "lbf ft", "160 N m", 1e-6, 1e6, _TORQUE),
    "power": Dimension("W", "kW", "hp", "25 kW", 1e-3, 1e7, _POWER),
    "force": Dimension("N", "N", "lbf", "900 N", 1e-6, 1e7, _FORCE),
    "mass": Dimension("kg", "kg", "lb", "640 kg", 1e-6, 1e6, _MASS),
    "time": Dimension("s", "s", "s", "9.4 s", 1e-6, 1e9, _TIME),
    "hours": Dimension("s", "h", "h", "50 h", 1e-3, 1e9, _TIME),
    "speed": Dimension("m/s", "m/s", "ft/s", "2.1 m/s", 1e-8, 100.0, _SPEED),
    "angle": Dimension("rad", "deg", "deg", "17 deg", 1e-7, 100.0, _ANGLE),
    "temperature": Dimension("kelvin", "degC", "degF", "80 degC", 200.0, 600.0, _TEMPERATURE),
    "temperature rise": Dimension("kelvin", "K", "degF", "10 K", 1e-6, 300.0, _RISE),
    "kinematic viscosity": Dimension("m^2/s", "mm2/s", "cSt", "46 cSt", 2e-7, 1.0, _KINEMATIC),
    "dynamic viscosity": Dimension("Pa*s", "mPa s", "cP", "25 mPa s", 1e-5, 1e3, _DYNAMIC),
    "density": Dimension("kg/m^3", "kg/m3", "lb/in3", "870 kg/m3", 10.0, 3e4, _DENSITY),
    "angular acceleration": Dimension("rad/s^2", "rad/s2", "rad/s2", "400 rad/s2", 1e-9, 1e7, {"rad/s2": "rad/s^2"}),
    "fraction": Dimension("", "%", "%", "92 %", 1e-9, 1e6, {"%": "percent", "percent": "percent"}),
}  # fmt: skip

#: Displayed units that are not typed spellings of their own.
PLAIN = "count"

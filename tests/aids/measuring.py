"""A shop with machines whose models give every number, for measuring on the Bench."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from aids.desk import Desk
from aids.shops import MODELS, SHOP, Clock
from shopboard.mechanics import runs
from shopboard.mechanics.model_data import ModelData
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.store import FolderStore, new_shop, open_shop, read_book

DATA: dict[str, str | float] = {
    "pump_displacement": "41.8 cm3/rev", "motor_displacement": "43.2 cm3/rev", "pistons": 9, "rated_speed": "2500 rpm",
    "relief_pressure": "250 bar", "rated_efficiency": "94 %", "oil_grade": "ISO VG 46", "range_ratio_low": 4.9,
    "range_ratio_high": 2.5, "final_ratio": 17.5, "rolling_radius": "0.5 m", "mass": "1500 kg", "cylinders": 3,
    "joints": 2, "shaft_length": "420 mm", "engine_mounts": "430 mm", "engine_rear_mount_to_joint": "95 mm",
    "gearbox_mounts": "520 mm", "gearbox_front_mount_to_joint": "70 mm", "control_arm": "58 mm",
    "link_pitch": "1.25 mm", "joint_most": "7 deg",
}  # fmt: skip


def _model() -> str:
    rows = "\n".join(
        f'{name} = "{value}"' if isinstance(value, str) else f"{name} = {value}" for name, value in DATA.items()
    )
    return f'\n[[model]]\nid = "known"\nname = "Known"\nlayout = "in-line"\n[model.data]\n{rows}\n'


def measuring_shop(folder: Path, clock: Clock) -> FolderStore:
    """An open shop: T-0001 weak drive on a known model, T-0002 the same, T-0003 vibration on it, T-0004 weak drive on
    a gear machine of which nothing is known."""
    new_shop(folder)
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    (folder / "models.toml").write_text(MODELS + _model(), encoding="utf-8")
    desk = Desk(open_shop(folder, clock=clock), clock)
    for name, model, symptoms in (
        ("Hill Vineyard", "known", ("weak-when-hot",)),
        ("Hospital", "known", ("weak-drive",)),
        ("Golf", "known", ("vibration",)),
        ("Farm", "gear-1", ()),
    ):
        machine = NewMachine(model=model, serial=name)
        desk.do(take_in, Intake(customer=NewCustomer(name=name, phone="555 01"), machine=machine,
                                complaint="as said", symptoms=symptoms), book=read_book(None))  # fmt: skip
    return desk.store


def timed(stroke: float, leakage: float, oil: float, percent: float, metres: float = 30.0) -> str:
    """The time such a machine takes in the high range, by the law of the runs and with nothing read wrong."""
    drive = runs.drive(ModelData(DATA), "high")
    run = runs.Run(metres, 10.0, 2500 / 60, math.atan(percent / 100), oil)
    full, lost = runs.law(drive, (run,), np.zeros(len(runs.COMMON) + 2))
    assert drive.new_leakage is not None
    return f"{metres / (stroke * full[0] - leakage * drive.new_leakage * lost[0]):.1f} s"

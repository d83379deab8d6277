"""The work behind the pages on timed runs, neutral creep and slope hold; loaded only when one of them runs."""

from __future__ import annotations

import argparse

from shopboard.mechanics import drive_answers
from shopboard.mechanics.results import Result
from shopboard.mechanics.runs import Run

from .inputs import fields, model_data


def read_run(text: str) -> Run:
    """A run from `distance=20 m, time=9.4 s, grade=12 %, oil=80 degC, speed=2600 rpm`, maybe pressure, direction."""
    return drive_answers.read_run(fields(text))


def timed_runs_result(o: argparse.Namespace) -> Result:
    """What the runs say of lost stroke and leakage."""
    return drive_answers.timed_runs_answer(
        model_data(o), o.gear, o.mass, tuple(o.run), tuple(o.sound_run) if o.sound_run else ()
    )


def neutral_creep_result(o: argparse.Namespace) -> Result:
    """Where the true neutral is, and how far to move the link."""
    return drive_answers.neutral_creep_answer(
        model_data(o), o.forward_edge, o.reverse_edge, o.rest, o.arm, o.thread_pitch
    )


def slope_hold_result(o: argparse.Namespace) -> Result:
    """The leakage from the creep nose up and nose down."""
    return drive_answers.slope_hold_answer(model_data(o), o.gear, o.mass, o.grade, o.nose_up, o.nose_down, o.oil)

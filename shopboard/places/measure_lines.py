"""What the Measure panel says: cautions first, what is lacking, runs so far, results with bands, what moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import TYPE_CHECKING

from shopboard.records import Machine, Model
from shopboard.trouble import Book

from .bench_lines import caution_lines
from .fields import Values, text_of
from .lines import BLANK, Line, cell, line, share, wrapped
from .spectrum_lines import Label, Point, spectrum_lines

if TYPE_CHECKING:
    from shopboard.mechanics.results import Figure, Result


@dataclass(frozen=True)
class Kind:
    """A way to measure: `check` of the book it answers, `needs` the model's numbers without which it says less or
    nothing, `fills` those the form starts with."""

    id: str
    name: str
    check: str
    what: str
    needs: tuple[str, ...] = ()


_DRIVE = ("pump_displacement", "motor_displacement", "final_ratio", "rolling_radius", "mass")
KINDS = (
    Kind("timed-runs", "timed runs", "timed-runs", "stopwatch, cool and hot: lost stroke or leakage",
         (*_DRIVE, "rated_efficiency", "rated_speed", "relief_pressure")),
    Kind("neutral-creep", "neutral creep", "neutral-stands", "on stands: true zero, how far to move the link",
         ("control_arm", "link_pitch")),
    Kind("slope-hold", "slope hold", "slope-hold", "creep nose up and nose down: leakage",
         (*_DRIVE, "rated_efficiency", "rated_speed")),
    Kind("joints", "joint angles", "joint-angles", "inclinometer: what is left over, which shim",
         ("engine_mounts", "engine_rear_mount_to_joint", "shaft_length", "gearbox_front_mount_to_joint",
          "gearbox_mounts")),
    Kind("recording", "recording", "vibration-recording", "CSV or WAV of a phone: which part shakes",
         ("cylinders", "pistons", "joints", "range_teeth", "final_teeth")),
)  # fmt: skip
PLAIN = "reading"


def why_not(kind: Kind, book: Book, machine: Machine) -> str:
    """Why this cannot be measured on this machine; "" where it can."""
    check = book.checks.get(kind.check)
    if check is None:
        return f"the trouble book has no check {kind.check}"
    if machine.layout.value not in check.layouts:
        return f"not on {machine.layout.value} machines"
    return ""


def kind_lines(book: Book, machine: Machine, runs: int, width: int) -> list[Line]:
    """What can be measured on this machine, and why not the rest."""
    rows, not_here = [], []
    for kind in KINDS:
        why = why_not(kind, book, machine)
        if why:
            not_here.append(line(None, (cell(f"{kind.name}: {why}", width), "soft")))
            continue
        so_far = f"{runs} so far, not recorded yet" if runs and kind.id == "timed-runs" else kind.what
        rows.append(line(kind.id, cell(kind.name, 17), (cell(so_far, max(1, width - 17)), "soft")))
    rows.append(
        line(PLAIN, cell("a plain reading", 16), (cell("a number off a gauge, with its unit", width - 16), "soft"))
    )
    return [*rows, *not_here]


def lacking(kind: Kind, model: Model | None) -> tuple[str, ...]:
    """The numbers this measurement could use and the model does not give."""
    data: Mapping[str, object] = model.data if model else {}
    return tuple(name for name in kind.needs if name not in data)


def before_lines(kind: Kind, book: Book, model: Model | None, width: int) -> list[Line]:
    """Cautions whole, then how it is done, then what the model lacks for it."""
    check = book.checks[kind.check]
    rows = caution_lines([book.cautions[c].text for c in check.cautions if c in book.cautions], width)
    rows += wrapped(check.how, width)
    if check.tool:
        rows += wrapped(f"tool: {check.tool}", width, "soft")
    if missing := lacking(kind, model):
        names = ", ".join(name.replace("_", " ") for name in missing)
        rows += wrapped(f"{model.name if model else 'the model'} gives no {names}: less can be said", width, "wait")
    return rows


def short_cautions(kind: Kind, book: Book, filled: bool, width: int) -> list[Line]:
    """The names of the cautions on one or two lines, over a form; and how to change what is `filled` in."""
    names = [book.cautions[c].name for c in book.checks[kind.check].cautions if c in book.cautions]
    rows = wrapped(f"CAUTION  {'; '.join(names)} (Esc shows them whole)", width, "late") if names else []
    return (
        [*rows, *wrapped("What is filled in may be changed: Ctrl+U empties a line.", width, "soft")] if filled else rows
    )


# -- runs given so far ----------------------------------------------------------------------------------------------

ADD, SAY, SETUP, RUN = "add", "say", "setup", "run "


def run_words(values: Values) -> str:
    """A run as one reads it: "20 m in 9.4 s, 12 %, 80 degC, 2600 rpm, forward"."""
    parts = [f"{text_of(values, 'distance')} in {text_of(values, 'time')}"]
    parts += [text_of(values, name) for name in ("grade", "oil", "speed", "direction") if text_of(values, name)]
    if pressure := text_of(values, "pressure"):
        parts.append(f"loop {pressure}")
    return ", ".join(parts)


def runs_note(setup: str, runs: Sequence[Values]) -> str:
    """All runs as they were typed, to be kept beside what came of them."""
    return f"{setup}: {'; '.join(map(run_words, runs))}"


def runs_lines(setup: str, runs: Sequence[Values], refusal: str, width: int) -> list[Line]:
    """The set of runs: why they say nothing yet, what may come next, each run, what holds for all."""
    rows = wrapped(refusal, width, "late") if refusal else []
    rows += [line(ADD, cell("add a run" if not runs else "add another run", width))]
    for number, run in enumerate(runs, 1):
        rows.append(line(f"{RUN}{number}", cell(f"run {number}: {run_words(run)}", width)))
    if setup:
        rows.append(line(SETUP, (cell(f"for all runs: {setup}", width), "soft")))
    if len(runs) >= 2:
        rows.append(line(SAY, cell(f"what do these {len(runs)} runs say?", width)))
    elif runs:
        rows += wrapped("one run tells speed, not why: add one with hot oil on the grade", width, "soft")
    return rows


# -- results --------------------------------------------------------------------------------------------------------

#: Figures that only a reader of formulas asks for.
_LEFT_OUT = {"leakage_constant_mm3", "left_over_small_angle", "output_acceleration", "shaft_acceleration"}


def result_lines(
    result: Result, units: str, width: int, points: Sequence[Point] = (), labels: Sequence[Label] = (), axis: str = "Hz"
) -> list[Line]:
    """Verdict, picture, figures with their 90 % bands, rows, what is assumed and lacking, the source."""
    from shopboard.mechanics.results import figure_words

    rows = wrapped(result.verdict, width, "strong") if result.verdict else []
    if points:
        rows += [BLANK, *spectrum_lines(points, labels, axis, width, 6 if width < 90 else 12)]
        rows += peak_lines(result.rows, units, width)
    rows.append(BLANK)
    for name, figure in result.results.items():
        if name not in _LEFT_OUT:
            words = figure_words(figure.shown(units))
            rows += [line(None, cell(name.replace("_", " "), 26), row.text) for row in wrapped(words, width - 26)]
    if not points:
        rows += _table(result.rows, units, width)
    rows.append(BLANK)
    for sentence in result.assumes:
        rows += wrapped(f"assumes: {sentence}", width, "soft")
    return [*rows, *wrapped(f"source: {result.source}", width, "soft")]


def peak_lines(rows: Sequence[Mapping[str, Figure]], units: str, width: int) -> list[Line]:
    """The letters of the picture with place, source and the second best, strongest first."""
    from shopboard.mechanics.results import figure_words

    found = []
    for letter, row in zip(ascii_uppercase, rows, strict=False):
        words = {name: figure_words(figure.shown(units)) for name, figure in row.items()}
        first, second = (share(float(row[name].value or 0)) for name in ("probability", "its_probability"))
        place = f"{words.get('frequency', ''):<10}{words['order']}×"
        text = f"{words['source']} {first}, else {words['second_best']} {second}"
        for at, part in enumerate(wrapped(text, max(10, width - 21))):
            found.append(
                line(None, (letter if at == 0 else " ", "mark"), f" {place if at == 0 else '':<19}", part.text)
            )
    return found


def _table(rows: Sequence[Mapping[str, Figure]], units: str, width: int) -> list[Line]:
    """Rows as a table where they fit; else each row as a sentence."""
    from shopboard.mechanics.results import figure_words

    if not rows:
        return []
    heads = list(rows[0])
    cells = [[head.replace("_", " ") for head in heads]]
    cells += [[figure_words(row[head].shown(units)) if head in row else "" for head in heads] for row in rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(heads))]
    if sum(widths) + 2 * len(widths) - 2 <= width:
        lines = ["  ".join(cell(c, w) for c, w in zip(row, widths, strict=True)) for row in cells]
        return [BLANK, line(None, (lines[0], "soft")), *(line(None, text) for text in lines[1:])]
    found = [BLANK]
    for row in cells[1:]:
        found += wrapped("; ".join(f"{head} {words}" for head, words in zip(cells[0], row, strict=True)), width)
    return found


def outcome_words(book: Book, check: str, outcome: str, before: str = "") -> str:
    """What recording answers: "timed runs, cool and hot: slower hot than cool (now: unsure)"."""
    entry = book.checks[check]
    names = {id: known.name for id, known in entry.outcomes.items()}
    now = f" (now: {names.get(before, before)})" if before and before != outcome else ""
    return f"{entry.name}: {names.get(outcome, outcome)}{now}"


def moved_words(moved: Sequence[tuple[str, float, float]]) -> str:
    """By how much the ranking moved: "pump pistons and bores worn 32 % → 71 %; tracking linkage 40 % → 12 %"."""
    if not moved:
        return "no cause can be told yet"
    return "; ".join(f"{name} {share(before)} → {share(after)}" for name, before, after in moved)

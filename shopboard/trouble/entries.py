"""Each kind of entry of the book, made from its fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

from shopboard.records import FieldError, to_record

from .book import (
    Cause,
    Caution,
    Check,
    Correction,
    Cover,
    Outcome,
    Part,
    ReadingOf,
    Service,
    Symptom,
    Where,
)
from .fields import Fields, meant
from .scales import FREQUENCY, WEIGHT


def _symptom(f: Fields) -> Symptom:
    return Symptom(
        id=f.id,
        name=f.text("name"),
        layouts=f.layouts(),
        words=f.words("words"),
        ask=f.words("ask"),
        otherwise=f.scale("otherwise", FREQUENCY),
    )


def _pair(value: Any) -> tuple[float, float] | None:
    numbers = isinstance(value, list) and len(value) == 2 and all(type(number) in (int, float) for number in value)
    return (float(value[0]), float(value[1])) if numbers and value[0] >= 0 and value[1] > 0 else None


def _ratios(f: Fields, name: str, value: Any, readings: int) -> tuple[tuple[float, float], ...]:
    """A (mean, spread) for each reading of the check."""
    given = [value] if readings == 1 else value if isinstance(value, list) else []
    pairs = [pair for pair in map(_pair, given) if pair is not None]
    if len(pairs) == len(given) == readings:
        return tuple(pairs)
    many = "" if readings == 1 else f", {readings} of them in a list"
    f.wrong(f"{name}.ratio is {value!r}", f"write ratio = [mean, spread]{many}, spread above 0: reading over the limit")
    return ()


def _outcome(f: Fields, id: str, data: Any, readings: int) -> Outcome:
    path = f"outcomes.{id}"
    if not isinstance(data, dict):
        f.wrong(f"{path} must be a table", f'write {id} = {{ name = "…", otherwise = "seldom" }}')
        return Outcome(id=id, name=id)
    known = ("name", "normal", "otherwise", "ratio", "same_as")
    for name in sorted(set(data) - set(known)):
        f.wrong(f"unknown field {path}.{name}", meant(name, known))
    name = data.get("name")
    if not isinstance(name, str) or not name.strip():
        f.wrong(f"{path}.name is missing", f'write {id} = {{ name = "…" }}, as it reads alone')
        name = id
    normal = data.get("normal") is True
    if normal and "otherwise" in data:
        f.wrong(f"{path} is normal and says how often otherwise", "take otherwise out")
    otherwise = 0.0
    if not normal:
        otherwise = f.scale(f"{path}.otherwise", FREQUENCY, data.get("otherwise", ""))
    if not readings and "ratio" in data:
        f.wrong(f"{path} has a ratio, but the check has no reading", "add reading = { quantity, limit } to the check")
    ratios = _ratios(f, path, data.get("ratio"), readings) if readings else ()
    same_as = str(data.get("same_as", ""))
    return Outcome(id=id, name=name.strip(), normal=normal, otherwise=otherwise, ratios=ratios, same_as=same_as)


def _outcomes(f: Fields, readings: int) -> dict[str, Outcome]:
    made = {id: _outcome(f, id, data, readings) for id, data in f.table("outcomes").items()}
    if len(made) < 2:
        f.wrong("fewer than two outcomes", "a check needs a normal outcome and at least one other")
    elif (normal := sum(outcome.normal for outcome in made.values())) != 1:
        f.wrong(f"{normal} outcomes are normal", "mark exactly one with normal = true")
    return made


def _readings(f: Fields) -> tuple[ReadingOf, ...]:
    value = f.take("reading")
    if value is None:
        return ()
    try:
        found = to_record(value if isinstance(value, list) else [value], tuple[ReadingOf, ...], f.entry)
    except FieldError as error:
        f.wrong(f"reading: {error.why}", 'write reading = { quantity = "…", limit = "…" }')
        return ()
    for one in found:
        if isinstance(one.limit, float) and not 0 < one.limit < 1e6:
            f.wrong(f"reading: limit is {one.limit:g}", "write a number above 0, or the name of a model's number")
    if len({one.quantity for one in found}) < len(found):
        f.wrong("reading names one quantity twice", "take one out")
    return found


def _accessed(f: Fields) -> dict[str, Any]:
    layouts = f.layouts()
    minutes, minutes_by = f.minutes(layouts)
    covers = f.covers(layouts)
    return {"layouts": layouts, "minutes": minutes, "minutes_by": minutes_by, "covers": covers}


def _check(f: Fields) -> Check:
    readings = _readings(f)
    return Check(
        id=f.id,
        name=f.text("name"),
        how=f.text("how"),
        where=f.choice("where", get_args(Where)),  # type: ignore[arg-type]
        outcomes=_outcomes(f, len(readings)),
        tool=f.text("tool", ""),
        cautions=f.words("cautions"),
        needs=f.words("needs"),
        unless=f.words("unless"),
        shared_error=f.text("shared_error", ""),
        readings=readings,
        **_accessed(f),
    )


def _frequencies(f: Fields, path: str, data: Any) -> dict[str, float]:
    if not isinstance(data, dict):
        f.wrong(f"{path} must be a table", f'write {path} = {{ … = "usually" }}')
        return {}
    return {id: f.scale(f"{path}.{id}", FREQUENCY, word) for id, word in data.items()}


def _cause(f: Fields) -> Cause:
    answers = {check: _frequencies(f, f"answers.{check}", data) for check, data in f.table("answers").items()}
    made = Cause(
        id=f.id,
        name=f.text("name"),
        layouts=f.layouts(),
        weight=f.scale("weight", WEIGHT),
        correction=f.words("correction"),
        shows=_frequencies(f, "shows", f.table("shows")),
        answers=answers,
        why=f.text("why", ""),
    )
    if not made.correction:
        f.wrong("no correction", 'write correction = ["…"], the usual one first')
    return made


def _correction(f: Fields) -> Correction:
    return Correction(
        id=f.id,
        name=f.text("name"),
        parts=f.tables("parts", Part),
        skill=f.text("skill", ""),
        needs=f.words("needs"),
        cautions=f.words("cautions"),
        **_accessed(f),
    )


def _cover(f: Fields) -> Cover:
    return Cover(
        id=f.id,
        name=f.text("name"),
        layouts=f.layouts(),
        off=f.number("off"),
        on=f.number("on"),
        under=f.words("under"),
        people=int(f.number("people", 1, least=1)),
        ways=f.lists("ways"),
        needs=f.words("needs"),
    )


def _service(f: Fields) -> Service:
    return Service(
        id=f.id,
        name=f.text("name"),
        normal_hours=f.number("normal_hours", least=1),
        severe_hours=f.number("severe_hours", least=1),
        months=f.number("months", 0.0),
        **_accessed(f),
    )


def _caution(f: Fields) -> Caution:
    return Caution(id=f.id, name=f.text("name", f.id.replace("-", " ")), text=f.text("text"))


#: How each kind of entry is made, by the name of its table in the file.
KINDS: dict[str, Callable[[Fields], Any]] = {
    "symptom": _symptom,
    "check": _check,
    "cause": _cause,
    "correction": _correction,
    "cover": _cover,
    "service": _service,
    "caution": _caution,
}

"""The hour meter: which reading can be true, given what it showed before and how much time has passed."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import HourReading, Machine, Refused

from .said import number, plain

#: No machine this shop sees has run longer (common practice, no source).
MOST_HOURS = 60_000.0

#: Hours by which a true reading may run ahead of the calendar: it is taken at the gate and typed later.
SLACK = 1.0


def hour_reading(readings: tuple[HourReading, ...], hours: float, new_meter: bool, now: datetime) -> HourReading:
    """The reading to keep, in hours; `new_meter` says that the meter was replaced since the last one.

    Refused: negative, no number, over 60,000, lower than the last on the same meter, or more hours than the
    calendar has since the last reading.
    """
    hours = number(hours, "the hour meter", least=0, most=MOST_HOURS)
    if readings:
        last = readings[-1]
        if hours < last.hours and not new_meter:
            raise Refused(
                f"the hour meter shows {plain(hours)} h and showed {plain(last.hours)} h last time: meter replaced?",
                "say so if it was, or read it again",
            )
        _within_calendar(last, hours, new_meter, now)
    return HourReading(at=now, hours=hours, new_meter=new_meter)


def _within_calendar(last: HourReading, hours: float, new_meter: bool, now: datetime) -> None:
    run = hours if new_meter else hours - last.hours
    passed = max((now - last.at).total_seconds(), 0.0) / 3600
    if run > passed + SLACK:
        raise Refused(
            f"{plain(run)} h more{' on the new meter' if new_meter else ''} cannot be: "
            f"only {passed:.0f} h have passed since the last reading ({plain(last.hours)} h)",
            "read the meter again",
        )


def read_meter(machine: Machine, hours: float | None, new_meter: bool, now: datetime) -> tuple[HourReading, ...]:
    """The machine's readings with this one added; as they were if the meter was not read (`hours` None)."""
    if hours is None:
        if new_meter:
            raise Refused("the meter was replaced, but not read", "read the new meter")
        return machine.readings
    return (*machine.readings, hour_reading(machine.readings, hours, new_meter, now))

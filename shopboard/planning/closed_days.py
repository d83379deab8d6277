"""Days on which the shop is closed although the week says open: public holidays and the shop's own closed days."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from shopboard.records import Closure, Settings

from .hours import OpenHours

#: Public holidays are looked up from the year before a moment to so many years after it.
YEARS_BEFORE, YEARS_AFTER = 1, 2


@lru_cache(maxsize=32)
def _holidays(country: str, region: str, year: int) -> dict[date, str]:
    import holidays  # not before the first paint: it takes a tenth of a second

    return dict(holidays.country_holidays(country, subdiv=region or None, years=year))


def holidays_of(settings: Settings, year: int) -> dict[date, str]:
    """The public holidays of the shop's country and region in a year, by day, with their names; none without a country,
    or when it or its region is not known (`country_wrong` says so).

    >>> canada = Settings(name="s", country="CA", region="ON")
    >>> holidays_of(canada, 2026)[date(2026, 9, 7)]
    'Labor Day'
    """
    country = settings.country.strip().upper()
    if not country:
        return {}
    try:
        return _holidays(country, settings.region.strip().upper(), year)
    except NotImplementedError:
        return {}


def holidays_around(settings: Settings, today: date) -> dict[date, str]:
    """The public holidays of the years around a day, with their names. Takes a tenth of a second the first time."""
    years = range(today.year - YEARS_BEFORE, today.year + YEARS_AFTER + 1)
    return {day: name for year in years for day, name in holidays_of(settings, year).items()}


def country_wrong(settings: Settings) -> str | None:
    """One line about a country or region in shop.toml whose holidays are not known; None when all is well."""
    country, region = settings.country.strip().upper(), settings.region.strip().upper()
    try:
        if country:
            _holidays(country, "", 2026)
    except NotImplementedError:
        return f'country "{settings.country}" is not known: two letters belong there, such as "AT", "CA" or "US"'
    try:
        if country and region:
            _holidays(country, region, 2026)
    except NotImplementedError:
        return f'region "{settings.region}" is not one of {country}: leave it out, or give its letters, such as "ON"'
    return None


def closed_days(settings: Settings, holidays: Mapping[date, str]) -> dict[date, str]:
    """Days on which the shop is closed whatever the week's hours say, each with the holiday's name or "closed".

    >>> shop = Settings(name="s", closed_days=(date(2026, 12, 24), date(2026, 12, 25)))
    >>> closed_days(shop, {date(2026, 12, 25): "Christmas Day"})
    {datetime.date(2026, 12, 24): 'closed', datetime.date(2026, 12, 25): 'Christmas Day'}
    """
    return dict.fromkeys(settings.closed_days, "closed") | dict(holidays)


def open_hours(
    settings: Settings, zone: ZoneInfo, holidays: Mapping[date, str], closures: Iterable[Closure] = ()
) -> OpenHours:
    """The shop's working time without public holidays, its closed days, and days on which `closures` keep all of it
    closed."""
    closed = closed_days(settings, holidays)
    hours = OpenHours(settings, zone, closed)
    more = {day: why for closure in closures if closure.whole_shop for day, why in _kept_closed(hours, closure)}
    return OpenHours(settings, zone, closed | more) if more else hours


def until_words(until: datetime, zone: ZoneInfo) -> str:
    """Until when something lasts, on the shop's clock.

    >>> from datetime import UTC
    >>> until_words(datetime(2026, 11, 28, tzinfo=UTC), ZoneInfo("UTC"))
    'until the end of Fri 27 Nov'
    >>> until_words(datetime(2026, 11, 27, 14, tzinfo=UTC), ZoneInfo("UTC"))
    'until Fri 27 Nov 14:00'
    """
    local = until.astimezone(zone)
    if (local.hour, local.minute) == (0, 0):
        return f"until the end of {local.date() - timedelta(days=1):%a %d %b}"
    return f"until {local:%a %d %b %H:%M}"


def span_words(begin: datetime, until: datetime, now: datetime, zone: ZoneInfo) -> str:
    """From when (if that is still to come) until when something lasts, on the shop's clock.

    >>> from datetime import UTC
    >>> now, day = datetime(2026, 11, 25, tzinfo=UTC), datetime(2026, 11, 27, tzinfo=UTC)
    >>> span_words(day, day + timedelta(days=1), now, ZoneInfo("UTC"))
    'on Fri 27 Nov'
    >>> span_words(day, day + timedelta(days=2, hours=9), now, ZoneInfo("UTC"))
    'from Fri 27 Nov until Sun 29 Nov 09:00'
    """
    local, end = begin.astimezone(zone), until.astimezone(zone)
    midnight = (local.hour, local.minute) == (0, 0)
    if begin <= now:
        return until_words(until, zone)
    if not midnight and until_words(until, zone).endswith(f"end of {local:%a %d %b}"):
        return f"from {local:%a %d %b %H:%M} until the end of the day"
    if midnight and (end.hour, end.minute) == (0, 0) and end.date() - local.date() == timedelta(days=1):
        return f"on {local:%a %d %b}"
    return f"from {local:%a %d %b}{'' if midnight else f' {local:%H:%M}'} {until_words(until, zone)}"


def _kept_closed(hours: OpenHours, closure: Closure) -> Iterable[tuple[date, str]]:
    """The days whose work a closure of the whole shop takes away from first to last minute."""
    day, last = closure.start.astimezone(hours.zone).date(), closure.until.astimezone(hours.zone).date()
    while day <= last:
        opened = hours.on(day)
        if opened and closure.start <= opened[0] and opened[1] <= closure.until:
            yield day, closure.why or "closed"
        day += timedelta(days=1)

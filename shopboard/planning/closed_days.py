"""Days on which the shop is closed although the week says open: public holidays and the shop's own closed days."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from shopboard.records import Settings


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


def closed_why(settings: Settings, day: date) -> str | None:
    """Why the shop is closed on a day whatever the week's hours say: the holiday's name, or "closed"; else None."""
    if day in settings.closed_days:
        return holidays_of(settings, day.year).get(day, "closed")
    return holidays_of(settings, day.year).get(day)

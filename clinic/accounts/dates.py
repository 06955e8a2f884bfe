"""Dates and times as words. Templates write them with the tags of the same names, everything else with these.

The shapes stand per language in clinic/config/formats: `Tue 3 Mar 2026, 14:30`, and a day of birth without its weekday.
"""

from datetime import date, datetime, time, tzinfo
from functools import lru_cache

from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import get_language


def day_words(value: date | datetime, zone: tzinfo | None = None) -> str:
    """`Tue 3 Mar 2026`; of a moment, the day it falls on in the zone, or in the one that is active."""
    return date_format(local_day(value, zone), "DATE_FORMAT")


def moment_words(value: datetime, zone: tzinfo | None = None) -> str:
    """`Tue 3 Mar 2026, 14:30`."""
    return date_format(_local(value, zone), "DATETIME_FORMAT")


def clock_words(value: datetime | time, zone: tzinfo | None = None) -> str:
    """`14:30`; a bare time of day, such as opening hours, is one already and needs no zone."""
    local = _local(value, zone) if isinstance(value, datetime) else value
    return _clock(local.hour, local.minute, get_language())


@lru_cache(maxsize=10_000)
def _clock(hour: int, minute: int, _language: str | None) -> str:
    """A day of the diary says the same few times hundreds of times; no language's clock shows seconds here."""
    return time_format(time(hour, minute), "TIME_FORMAT")


def time_words(value: datetime, *, beside: datetime, zone: tzinfo | None = None) -> str:
    """`14:30` on the day of the other moment, else `Tue 3 Mar 2026, 14:30`."""
    is_same_day = local_day(value, zone) == local_day(beside, zone)
    return clock_words(value, zone) if is_same_day else moment_words(value, zone)


def birth_words(value: date) -> str:
    """`3 Mar 1990`: nobody asks on which weekday a person was born or comes of age."""
    return date_format(value, "SHORT_DATE_FORMAT")


def local_day(value: date | datetime, zone: tzinfo | None = None) -> date:
    return _local(value, zone).date() if isinstance(value, datetime) else value


def _local(value: datetime, zone: tzinfo | None) -> datetime:
    try:
        return value.astimezone(zone or timezone.get_current_timezone())
    except OverflowError:
        # At either end of the calendar no zone has an hour more; a mistyped year must not take the page away.
        return value

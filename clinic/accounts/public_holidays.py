"""Countries, their regions and their public holidays, as the holidays library knows them.

The library is loaded by whoever asks first: it brings many calendars, and most requests need none.
"""

from collections.abc import Sequence
from datetime import date
from functools import cache
from typing import Any

from django.utils.translation import get_language

_SMALL_WORDS = {"and", "of", "the"}


@cache
def countries() -> Sequence[tuple[str, str]]:
    """Codes of ISO 3166-1 with their English names: the library brings no others."""
    from holidays.registry import COUNTRIES  # noqa: PLC0415

    names = {classes[1]: _title(module) for module, classes in COUNTRIES.items()}
    return sorted(((code, names.get(code, code)) for code in _supported()), key=lambda one: one[1])


@cache
def regions(country: str) -> Sequence[tuple[str, str]]:
    """Codes of the country's parts with holidays of their own (ISO 3166-2 without the country), by name."""
    codes = _supported().get(country, [])
    if not codes:
        return ()
    names = {code: name for name, code in _country(country).subdivisions_aliases.items()}
    return sorted(((code, names.get(code, code)) for code in codes), key=lambda one: one[1])


def named_days(country: str, region: str, *, first_on: date, before_on: date) -> list[tuple[date, str]]:
    """In the active language where the library speaks it. Nothing for a country that it does not know."""
    if country not in dict(countries()):
        return []
    found = _country(
        country,
        subdiv=region if region in dict(regions(country)) else None,
        years=range(first_on.year, before_on.year + 1),
        language=_language(_country(country)),
    )
    return sorted((day, name) for day, name in found.items() if first_on <= day < before_on)


def _supported() -> dict[str, list[str]]:
    import holidays  # noqa: PLC0415

    return holidays.list_supported_countries(include_aliases=False)


def _country(code: str, **options: Any) -> Any:
    import holidays  # noqa: PLC0415

    return holidays.country_holidays(code, **options)


def _language(country: Any) -> str | None:
    """The country's own words where they are in that language; English where it speaks ours at all; else its own."""
    wanted = (get_language() or "en").partition("-")[0]
    spoken = [country.default_language, *country.supported_languages]
    fitting = [one for code in (wanted, "en") for one in spoken if one and one.partition("_")[0] == code]
    return fitting[0] if fitting else None


def _title(module: str) -> str:
    return " ".join(word if word in _SMALL_WORDS else word.capitalize() for word in module.split("_"))

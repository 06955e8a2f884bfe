"""What the holidays library says, next to public holidays written from memory; countries and their regions."""

from datetime import date

import pytest
from django.utils import translation

from clinic.accounts.public_holidays import countries, named_days, regions


def days(country: str, region: str, year: int) -> dict[date, str]:
    return dict(named_days(country, region, first_on=date(year, 1, 1), before_on=date(year + 1, 1, 1)))


# Written from memory, not from the library: bank holidays of England and Scotland, holidays by law of Bavaria.
# Easter Sunday is 5 April 2026 and 28 March 2027.
@pytest.mark.parametrize(
    ("country", "region", "closed", "open_"),
    [
        # England: Good Friday, Easter Monday, both May Mondays, the last Monday of August, Boxing Day on the Monday.
        ("GB", "ENG", ["2026-01-01", "2026-04-03", "2026-04-06", "2026-05-04", "2026-05-25"], ["2026-01-02"]),
        ("GB", "ENG", ["2026-08-31", "2026-12-25", "2026-12-28"], ["2026-08-03", "2026-11-30"]),
        ("GB", "ENG", ["2027-03-26", "2027-03-29", "2027-08-30", "2027-12-27", "2027-12-28"], ["2027-01-04"]),
        # Scotland: 2 January, the first Monday of August, St Andrew's Day; no Easter Monday.
        ("GB", "SCT", ["2026-01-02", "2026-04-03", "2026-08-03", "2026-11-30"], ["2026-04-06", "2026-08-31"]),
        ("GB", "SCT", ["2027-01-01", "2027-01-04", "2027-08-02", "2027-11-30"], ["2027-03-29", "2027-08-30"]),
        # Bavaria: Epiphany, Corpus Christi, All Saints; 31 October is one in the north only.
        ("DE", "BY", ["2026-01-06", "2026-05-14", "2026-06-04", "2026-10-03", "2026-11-01"], ["2026-10-31"]),
        ("DE", "BY", ["2027-01-06", "2027-03-29", "2027-05-06", "2027-05-17", "2027-05-27"], ["2027-10-31"]),
        ("DE", "", ["2026-05-01", "2026-12-26"], ["2026-01-06", "2026-06-04"]),
    ],
)
def test_holidays_that_everybody_there_knows(country: str, region: str, closed: list[str], open_: list[str]) -> None:
    known = days(country, region, date.fromisoformat(closed[0]).year)
    assert [day for day in closed if date.fromisoformat(day) not in known] == []
    assert [day for day in open_ if date.fromisoformat(day) in known] == []


def test_their_names_are_in_the_language_of_whoever_reads() -> None:
    assert days("DE", "BY", 2026)[date(2026, 10, 3)] == "German Unity Day"
    with translation.override("de"):
        assert days("DE", "BY", 2026)[date(2026, 10, 3)] == "Tag der Deutschen Einheit"
    assert days("GB", "ENG", 2026)[date(2026, 4, 3)] == "Good Friday"


def test_only_between_the_two_days_and_in_order() -> None:
    found = named_days("GB", "ENG", first_on=date(2026, 12, 25), before_on=date(2027, 1, 1))
    assert [day for day, _name in found] == [date(2026, 12, 25), date(2026, 12, 26), date(2026, 12, 28)]
    assert named_days("XX", "", first_on=date(2026, 1, 1), before_on=date(2027, 1, 1)) == []


def test_countries_and_their_regions() -> None:
    known = dict(countries())
    assert (known["GB"], known["DE"], known["IM"]) == ("United Kingdom", "Germany", "Isle of Man")
    assert len(known) > 200
    assert dict(regions("GB")) == {"ENG": "England", "NIR": "Northern Ireland", "SCT": "Scotland", "WLS": "Wales"}
    assert dict(regions("DE"))["BY"] == "Bayern"
    assert regions("AE") == regions("XX") == ()

"""Which paper lies in the printer where the site stands."""

from enum import StrEnum

# Territories that use US Letter. Source: Unicode CLDR, supplemental measurement data (paper size);
# from memory, unverified.
_LETTER = frozenset({"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"})


class Paper(StrEnum):
    A4 = "a4"
    LETTER = "us-letter"


def for_country(country: str) -> Paper:
    return Paper.LETTER if country in _LETTER else Paper.A4

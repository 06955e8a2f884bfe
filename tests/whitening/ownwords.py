"""A manager of Fernbrook words the consent anew, in as few words as a test needs."""

from datetime import date, datetime
from typing import Any

from tests.cast import NOW, Cast, actor_of
from whitening.consent import versions
from whitening.consent.actions import CheckDetails, record_check, take_into_use, write_wording
from whitening.consent.models import OwnWording, TranslationCheck, WordingUse
from whitening.consent.wording import Element, shipped

# Element 3, in words that no version of the program has.
LOOKS = "Whitening is about looks alone."
NEWEST = shipped()["en"][-1].elements


def row(element: Element, **changed: Any) -> dict[str, Any]:
    words = {"heading": element.heading, "paragraphs": list(element.paragraphs), "source": element.source}
    return {"number": element.number, **words, **changed}


def rows(number: int = 3, **changed: Any) -> list[dict[str, Any]]:
    """The program's English, with one element worded anew."""
    changed = changed or {"paragraphs": [LOOKS]}
    return [row(one, **changed) if one.number == number else row(one) for one in NEWEST]


def written(cast: Cast, language: str = "en", number: int = 3, *, now: datetime = NOW, **changed: Any) -> OwnWording:
    held = versions.newest_own(language)
    return write_wording(
        language=language,
        elements=rows(number, **changed),
        reason="Plainer",
        seen_version=held.version if held else 0,
        now=now,
        **by(cast),
    )


def checked(cast: Cast, wording: OwnWording, *, on: date = date(2026, 3, 3), now: datetime = NOW) -> TranslationCheck:
    details = CheckDetails(name="Ines Weber", qualification="sworn translator", checked_on=on)
    return record_check(language=wording.language, label=wording.label, details=details, now=now, **by(cast))


def used(cast: Cast, wording: OwnWording, *, now: datetime = NOW) -> WordingUse:
    held = versions.newest_use(wording.language)
    seen = held.number if held else 0
    return take_into_use(language=wording.language, label=wording.label, seen_number=seen, now=now, **by(cast))


def by(cast: Cast) -> dict[str, Any]:
    return {"at": cast.fernbrook, "user": cast.manager, "actor": actor_of(cast.manager)}

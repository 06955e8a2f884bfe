"""Since when each version of the consent's words was in use, and until when.

What the practice took into use says so by itself. What came with the program was in use from the beginning, until
something else was.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Min

from clinic.trail.models import TrailEntry
from whitening.consent.models import ConsentText, TranslationCheck, WordingUse


@dataclass(frozen=True, slots=True)
class Period:
    """since: None where nothing here tells when it came. until: None while it lasts."""

    label: str
    since: datetime | None
    until: datetime | None


def periods(language: str, uses: Sequence[WordingUse], *, came: Sequence[str]) -> list[Period]:
    """uses: the newest first; and so are these. came: the program's versions, the oldest first."""
    found = list(_of_the_program(language, uses, came))
    for place, use in enumerate(reversed(uses)):
        after = uses[len(uses) - place - 2] if place + 1 < len(uses) else None
        found.append(Period(use.label, use.used_since, after.used_since if after else None))
    return found[::-1]


def since_checked(period: Period, checks: Sequence[TranslationCheck]) -> Period | None:
    """A translation is signed in only once somebody is recorded who checked it. checks: of its words."""
    checked_at = min((check.recorded_at for check in checks), default=None)
    if checked_at is None or (period.until is not None and period.until <= checked_at):
        return None
    since = checked_at if period.since is None else max(period.since, checked_at)
    return Period(period.label, since, period.until)


def _of_the_program(language: str, uses: Sequence[WordingUse], came: Sequence[str]) -> Iterator[Period]:
    """Until the practice pressed for the first time: what was there when its own was made, else the newest."""
    if not came:
        return
    first = uses[-1] if uses else None
    made_over = first.label.partition(".")[0] if first is not None else came[-1]
    label = made_over if made_over in came else came[0]
    if first is None or first.label != label:
        yield Period(label, _begun_at(language, label, came), first.used_since if first else None)


def _begun_at(language: str, label: str, came: Sequence[str]) -> datetime | None:
    """With the practice, or with the first text that was made from it, should that be older; a later program's words
    by that text alone.
    """
    frozen = ConsentText.objects.filter(language=language, wording=label).aggregate(at=Min("frozen_at"))["at"]
    started = TrailEntry.objects.about("practice", 1).filter(verb="accounts.practice_started").first()
    begun = started.at + timedelta(seconds=started.clock_shift_seconds) if started and label == came[0] else None
    return min((at for at in (frozen, begun) if at is not None), default=None)

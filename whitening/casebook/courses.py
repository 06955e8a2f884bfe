"""A case's whole course: scale and polish, the sessions, the month review, with the days that lie between them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise

from django_stubs_ext import StrOrPromise

from clinic.diary.courses.finding import Visit
from clinic.diary.engine.course import Gap
from clinic.diary.engine.wishes import Wishes
from clinic.diary.forms import SEARCH_DAYS
from clinic.diary.leads import first_day, last_day
from whitening.casebook.leads import cleaned_on, days_between, leads_for, standing_visits
from whitening.casebook.rules import CLEAN_FROM_DAY, CLEAN_UNTIL_DAY
from whitening.casebook.wanting import wanted_for
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, VisitPurpose
from whitening.recall.timing import REVIEW_FIRST_DAY, REVIEW_LAST_DAY

CLEANING, SESSION, REVIEW = VisitPurpose.CLEANING, VisitPurpose.SESSION, VisitPurpose.REVIEW
SESSIONS_MOST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """What of the course has no time yet."""

    cleaning: bool
    sessions: int
    review: bool
    sessions_before: int = 0

    @property
    def any(self) -> bool:
        return self.cleaning or self.sessions > 0 or self.review

    @property
    def purposes(self) -> list[VisitPurpose]:
        """In the order in which they come."""
        return [*[CLEANING] * self.cleaning, *[SESSION] * self.sessions, *[REVIEW] * self.review]


@dataclass(frozen=True, slots=True)
class Sought:
    visits: Sequence[Visit]
    gaps: Sequence[Gap]


def missing(case: Case, *, now: datetime) -> Missing:
    """A cleaning where none counts any more today, unless a session ahead has its time: it would come before; the
    sessions of the plan, or one, that are not booked or held.
    """
    plan, cleaned = plan_in_force(case), cleaned_on(case, now=now)
    standing = standing_visits(case, SESSION, now=now)
    sessions, ahead = standing.count(), standing.filter(booking__starts_at__gt=now).exists()
    today = now.astimezone(case.site.zone).date()
    return Missing(
        cleaning=not ahead and (cleaned is None or cleaned + timedelta(days=CLEAN_UNTIL_DAY) < today),
        sessions=max((plan.sessions if plan else 1) - sessions, 0),
        review=not standing_visits(case, REVIEW, now=now).exists(),
        sessions_before=sessions,
    )


def sought(case: Case, wanted: Missing, *, from_on: date, person: int | None, wishes: Wishes, now: datetime) -> Sought:
    """Each visit with the days on which it may be by itself, and the days between them. Raises NoSuchVisitType."""
    purposes = wanted.purposes
    # Every later visit may have to wait for all before it: none is cut off that the first one still allows.
    furthest = from_on + timedelta(days=SEARCH_DAYS + days_between(plan_in_force(case)) * len(purposes))
    kinds = {
        purpose: replace(wanted_for(case, purpose, person=person), wishes=wishes, now=now) for purpose in set(purposes)
    }
    days = {purpose: _days(case, purpose, wanted, from_on, furthest, now) for purpose in set(purposes)}
    visits, number = [], wanted.sessions_before
    for purpose in purposes:
        number += purpose == SESSION
        first_on, last_on = days[purpose]
        visits.append(Visit(name=_named(purpose, number), wanted=kinds[purpose], first_on=first_on, last_on=last_on))
    return Sought(visits, list(gaps_of(case, purposes)))


def _days(
    case: Case, purpose: VisitPurpose, wanted: Missing, from_on: date, furthest: date, now: datetime
) -> tuple[date, date]:
    leads = leads_for(case, purpose, user=None, now=now)
    first_on = max(first_day(leads, with_advice=True) or from_on, from_on)
    if purpose == REVIEW:
        return first_on, furthest + timedelta(days=REVIEW_LAST_DAY)
    # A cleaning that counts today may be too old by then; one that is part of the course has its own distance.
    until = last_day(leads) if purpose == SESSION and not wanted.cleaning else None
    return first_on, min(furthest, until or furthest)


def _named(purpose: VisitPurpose, number: int) -> StrOrPromise:
    """A session with its number, so that a list of several reads."""
    return f"{purpose.label} {number}" if purpose == SESSION else purpose.label


def gaps_of(case: Case, purposes: Sequence[VisitPurpose]) -> Iterator[Gap]:
    sessions = [number for number, purpose in enumerate(purposes) if purpose == SESSION]
    for number, purpose in enumerate(purposes):
        if purpose == CLEANING:
            yield from (Gap(number, session, CLEAN_FROM_DAY, CLEAN_UNTIL_DAY) for session in sessions)
        if purpose == REVIEW and sessions:
            yield Gap(sessions[-1], number, REVIEW_FIRST_DAY, REVIEW_LAST_DAY)
    least = days_between(plan_in_force(case))
    yield from (Gap(before, after, least) for before, after in pairwise(sessions))

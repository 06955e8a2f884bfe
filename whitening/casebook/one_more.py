"""On which days one more session of a case may be, among the visits that stand already."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from clinic.diary.models import COMING, Status
from whitening.casebook.lead_times import earliest_for
from whitening.casebook.leads import days_between
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.recall.timing import REVIEW_FIRST_DAY


@dataclass(frozen=True, slots=True)
class Room:
    """What stands of a case. is_full: as many sessions as are planned have their time, or had it."""

    is_full: bool
    first_on: date
    apart: int
    sessions: Collection[date]
    reviews: Collection[date]

    def has(self, day: date) -> bool:
        """Far enough from each session, and from a review, which looks at the colour a month after the last one."""
        if self.is_full or day < self.first_on:
            return False
        near_session = any(abs((one - day).days) < self.apart for one in self.sessions)
        return not near_session and not any(abs((one - day).days) < REVIEW_FIRST_DAY for one in self.reviews)


def room_of(cases: Iterable[Case], *, now: datetime) -> dict[int, Room]:
    """By case."""
    some = {case.pk: case for case in cases}
    days: dict[tuple[int, str], list[date]] = {}
    rows = CaseVisit.objects.filter(case__in=some, booking__status__in=[*COMING, Status.FULFILLED])
    for pk, purpose, day in rows.values_list("case", "purpose", "booking__wall_on"):
        days.setdefault((pk, purpose), []).append(day)
    return {pk: _room(case, days, now) for pk, case in some.items()}


def _room(case: Case, days: dict[tuple[int, str], list[date]], now: datetime) -> Room:
    plan = plan_in_force(case)
    sessions = days.get((case.pk, VisitPurpose.SESSION), [])
    first_on = earliest_for(case, VisitPurpose.SESSION, now=now)
    return Room(
        is_full=plan is not None and len(sessions) >= plan.sessions,
        first_on=first_on.astimezone(case.site.zone).date(),
        apart=days_between(plan),
        sessions=sessions,
        reviews=days.get((case.pk, VisitPurpose.REVIEW), []),
    )

"""What comes after a session, for the patient's sheet: in words from the day of the sheet, and on the clock."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from clinic.diary.engine.working import instant
from whitening.cases.access import plan_in_force
from whitening.cases.models import VisitPurpose
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.models import FollowUp, FollowUpKind
from whitening.recall.visits import COMING, review_visit


class What(StrEnum):
    """Its words stand in documents/_coming.html."""

    CALL = "call"
    CHECK = "check"
    SESSION = "session"
    SESSION_TO_BOOK = "session_to_book"
    # Not urgent, so it stands here and not where to call at once.
    LEFT = "left"
    REVIEW = "review"
    REVIEW_TO_PICK = "review_to_pick"


@dataclass(frozen=True, slots=True)
class Coming:
    """until_at: the end of a span. link_at: when a link to pick a time goes out. days: from the day of the sheet."""

    what: What
    at: datetime
    until_at: datetime | None = None
    link_at: datetime | None = None
    days: int = 0


def coming(session: Session, *, now: datetime) -> list[Coming]:
    zone = session.case.site.zone
    found = [*_followed_up(session, zone), *_next_session(session, zone)]
    return ahead(found, today=timing.local_day(now, zone), zone=zone)


def ahead(found: Iterable[Coming], *, today: date, zone: ZoneInfo) -> list[Coming]:
    """What has not passed yet, the first first, with the days until then. A span counts until its end."""
    counted = [replace(one, days=max(0, (timing.local_day(one.at, zone) - today).days)) for one in found]
    left = [one for one in counted if timing.local_day(one.until_at or one.at, zone) >= today]
    return sorted(left, key=lambda one: one.at)


def _followed_up(session: Session, zone: ZoneInfo) -> Iterator[Coming]:
    if session.closed_at is not None:
        week_on = timing.local_day(session.closed_at, zone) + timedelta(days=timing.RE_ASK_UNTIL_DAY)
        yield Coming(What.LEFT, instant(week_on, time(0), zone))
    for row in session.followups.open():
        match row.kind:
            case FollowUpKind.NEXT_DAY_CALL:
                yield Coming(What.CALL, row.due_at, until_at=row.call_by)
            case FollowUpKind.TWO_DAY:
                yield Coming(What.CHECK, row.due_at)
            case FollowUpKind.REVIEW:
                yield _review(session, row, zone)
            case _:
                pass


def _review(session: Session, row: FollowUp, zone: ZoneInfo) -> Coming:
    booked = review_visit(session.case)
    if booked is not None:
        return Coming(What.REVIEW, booked.booking.starts_at)
    anchor = timing.local_day(session.closed_at or row.planned_at, zone)
    first, last = (
        instant(anchor + timedelta(days=day), time(0), zone)
        for day in (timing.REVIEW_FIRST_DAY, timing.REVIEW_LAST_DAY)
    )
    return Coming(What.REVIEW_TO_PICK, first, until_at=last, link_at=row.due_at)


def _next_session(session: Session, zone: ZoneInfo) -> Iterator[Coming]:
    # A course may have been made shorter or longer since.
    plan = plan_in_force(session.case) or session.plan
    if session.number >= plan.sessions or session.closed_at is None:
        return
    visits = session.case.visits.filter(
        purpose=VisitPurpose.SESSION, booking__status__in=COMING, booking__starts_at__gt=session.closed_at
    )
    starts_at = visits.order_by("booking__starts_at").values_list("booking__starts_at", flat=True).first()
    if starts_at is not None:
        yield Coming(What.SESSION, starts_at)
        return
    first_on = timing.local_day(session.closed_at, zone) + timedelta(days=plan.least_days_between)
    yield Coming(What.SESSION_TO_BOOK, instant(first_on, time(0), zone))

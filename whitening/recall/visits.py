"""The visit for the month review: how it stands in the diary, and from when on it may be."""

from datetime import date, datetime, time, timedelta

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words, moment_words
from clinic.diary.behind import TooNear
from clinic.diary.earliest import Limit
from clinic.diary.engine.working import instant
from clinic.diary.models import HOLDING, MOVABLE, Booking, Status
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.recall.timing import REVIEW_FIRST_DAY, local_day

COMING = [Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN]
# A time that is only held for a telephone call is no session yet.
_SESSIONS = [status for status in HOLDING if status not in {Status.NOSHOW, Status.PENDING}]


class TooEarlyForReview(Refusal):
    code = "recall.too_early_for_review"
    sentence = _(
        "The month review can be from %(day)s on, day 28 after the last session: before that the colour has not "
        "settled. If something cannot wait, book a problem visit."
    )


def review_visit(case: Case) -> CaseVisit | None:
    visits = case.visits.filter(purpose=VisitPurpose.REVIEW, booking__status__in=COMING)
    return visits.select_related("booking__site", "booking__patient").order_by("booking__starts_at").last()


def last_session_on(case: Case) -> date | None:
    """The day of the last session that was held or is booked."""
    days = (_last_booked_on(case), _last_closed_on(case))
    return max((day for day in days if day is not None), default=None)


def review_from(case: Case) -> datetime | None:
    """The start of day 28 after the last session that was held or is booked; None before any is."""
    last_on = last_session_on(case)
    if last_on is None:
        return None
    return instant(last_on + timedelta(days=REVIEW_FIRST_DAY), time(0), case.site.zone)


def _last_booked_on(case: Case) -> date | None:
    sessions = case.visits.filter(purpose=VisitPurpose.SESSION, booking__status__in=_SESSIONS)
    return sessions.order_by("-booking__starts_at").values_list("booking__wall_on", flat=True).first()


def _last_closed_on(case: Case) -> date | None:
    closed_at = case.sessions.exclude(closed_at=None).order_by("-closed_at").values_list("closed_at", flat=True).first()
    return local_day(closed_at, case.site.zone) if closed_at is not None else None


def check_not_too_early(case: Case, *, start_at: datetime) -> None:
    """Raises TooEarlyForReview."""
    first_at = review_from(case)
    if first_at is not None and start_at < first_at:
        raise _too_early(case, first_at)


def limit(booking: Booking) -> Limit | None:
    """For the diary: what moving a review must keep to."""
    visit = CaseVisit.objects.filter(booking=booking, purpose=VisitPurpose.REVIEW).select_related("case__site").first()
    first_at = review_from(visit.case) if visit is not None else None
    return (first_at, _too_early(visit.case, first_at)) if visit is not None and first_at is not None else None


def _too_early(case: Case, first_at: datetime) -> TooEarlyForReview:
    return TooEarlyForReview(day=day_words(first_at, case.site.zone))


def day_of_last_session() -> Subquery:
    """Of the case of each visit that is read; for `first_day_if_early`."""
    sessions = CaseVisit.objects.filter(
        case=OuterRef("case"), purpose=VisitPurpose.SESSION, booking__status__in=_SESSIONS
    ).order_by("-booking__starts_at")
    return Subquery(sessions.values("booking__wall_on")[:1])


def first_day_if_early(*, review_on: date, last_on: date | None) -> date | None:
    """From when on a review may be that a session has moved too near to; None where it may stay."""
    first_on = last_on + timedelta(days=REVIEW_FIRST_DAY) if last_on is not None else None
    return first_on if first_on is not None and review_on < first_on else None


def too_early(visits: QuerySet[CaseVisit]) -> dict[int, date]:
    """Reviews that a session has moved too near to, by booking: from which day on each may be. One query."""
    reviews = visits.filter(purpose=VisitPurpose.REVIEW, case__closed_at=None, booking__status__in=MOVABLE)
    rows = (
        reviews.annotate(last_on=day_of_last_session())
        .order_by()
        .values_list("booking_id", "booking__wall_on", "last_on")
    )
    found = ((pk, first_day_if_early(review_on=wall_on, last_on=last_on)) for pk, wall_on, last_on in rows)
    return {pk: first_on for pk, first_on in found if first_on is not None}


def behind(booking: Booking) -> list[TooNear]:
    """For the diary: the reviews of its case that are too early with the session at this time."""
    case = CaseVisit.objects.filter(booking=booking, purpose=VisitPurpose.SESSION).values("case")
    found = too_early(CaseVisit.objects.filter(case__in=case))
    reviews = Booking.objects.filter(pk__in=found).select_related("site", "patient", "visit_type")
    return [TooNear(one, _move_too(one, found[one.pk])) for one in reviews.order_by("starts_at", "pk")]


def _move_too(review: Booking, first_on: date) -> str:
    words = _(
        "The month review of %(when)s is too early now: it can be from %(day)s on, day 28 after the last session. "
        "Move it too."
    )
    return str(words) % {"when": moment_words(review.starts_at, review.site.zone), "day": day_words(first_on)}

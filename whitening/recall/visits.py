"""The visit for the month review, as it stands in the diary."""

from clinic.diary.models import Status
from whitening.cases.models import Case, CaseVisit, VisitPurpose

COMING = [Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN]


def review_visit(case: Case) -> CaseVisit | None:
    visits = case.visits.filter(purpose=VisitPurpose.REVIEW, booking__status__in=COMING)
    return visits.select_related("booking__site", "booking__patient").order_by("booking__starts_at").last()

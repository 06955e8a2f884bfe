"""Closing a case: what was still to come of its course is taken out of the diary with it."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary import actions as diary
from clinic.diary.models import Status
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases import actions as cases
from whitening.cases.models import Case, CaseVisit, CloseReason, VisitPurpose

_COMING = [Status.PROPOSED, Status.PENDING, Status.BOOKED]
# A cleaning, a problem visit or a review still helps somebody whose course has ended.
_OF_THE_COURSE = [VisitPurpose.CONSULTATION, VisitPurpose.SESSION, VisitPurpose.IMPRESSIONS, VisitPurpose.FITTING]


class SessionStillRuns(Refusal):
    code = "casebook.session_still_runs"
    sentence = _("A session of this case is open at the chair. Close the session first, then the case.")


def end_case(*, case: Case, reason: CloseReason, words: str, user: User, actor: Actor, now: datetime) -> Case:
    """Raises SessionStillRuns or CaseClosed."""
    require(user, Capability.CASE_CLOSE, case.site)
    with transaction.atomic():
        Case.objects.select_for_update().get(pk=case.pk)
        if case.sessions.filter(closed_at=None).exists():
            raise SessionStillRuns
        closed = cases.close_case(case=case, reason=reason, words=words, actor=actor, now=now)
        for visit in _still_to_come(case, now):
            diary.cancel(booking=visit.booking, by="practice", reason="", actor=actor, now=now)
    return closed


def _still_to_come(case: Case, now: datetime) -> list[CaseVisit]:
    visits = case.visits.filter(purpose__in=_OF_THE_COURSE, booking__status__in=_COMING, booking__starts_at__gt=now)
    return list(visits.select_related("booking__site", "booking__patient", "booking__visit_type"))

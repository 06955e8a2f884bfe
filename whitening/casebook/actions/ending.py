"""Closing a case: what was still to come of its course is taken out of the diary with it."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary import actions as diary
from clinic.diary.actions.stepping import end_hold
from clinic.diary.models import Status, WaitingWish, WishEnd
from clinic.diary.waitlist.listing import end_wish
from clinic.patients.actions import note_death, note_move
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.wanting import CODES
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
        # Before the case itself is locked, as whoever takes an offer does: else two would wait in a circle.
        _off_the_list(case, actor, now)
        # Before the visits are cancelled: nobody writes to the dead, or reminds somebody who has left. And before the
        # case is locked: this locks its follow-ups, as a call does that then closes the case.
        if reason == CloseReason.DIED:
            note_death(patient=case.patient, actor=actor, now=now)
        elif reason == CloseReason.MOVED_AWAY:
            note_move(patient=case.patient, actor=actor, now=now)
        Case.objects.select_for_update().get(pk=case.pk)
        if case.sessions.filter(closed_at=None).exists():
            raise SessionStillRuns
        closed = cases.close_case(case=case, reason=reason, words=words, actor=actor, now=now)
        for visit in _still_to_come(case, now):
            if visit.booking.status == Status.PENDING:
                end_hold(visit.booking, "diary.hold_let_go", actor=actor, now=now)
            else:
                diary.cancel(booking=visit.booking, by="practice", reason="", actor=actor, now=now)
    return closed


def _off_the_list(case: Case, actor: Actor, now: datetime) -> None:
    """Nobody is offered a time for a course that has ended; one that is on offer goes to the next."""
    codes = [CODES[purpose] for purpose in _OF_THE_COURSE]
    for wish in WaitingWish.objects.waiting().filter(patient=case.patient, visit_type__code__in=codes).order_by("pk"):
        end_wish(wish, because=WishEnd.REMOVED, actor=actor, now=now)


def _still_to_come(case: Case, now: datetime) -> list[CaseVisit]:
    visits = case.visits.filter(purpose__in=_OF_THE_COURSE, booking__status__in=_COMING, booking__starts_at__gt=now)
    return list(visits.select_related("booking__site", "booking__patient", "booking__visit_type"))

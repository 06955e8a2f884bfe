"""The consultation of today follows what is done in it: who is examined or talked with is in the chair."""

from datetime import datetime

from django.db import transaction

from clinic.diary import actions as diary
from clinic.diary.models import Status
from clinic.trail.actor import Actor
from whitening.cases.models import Case, VisitPurpose

_NOT_YET_IN = [Status.BOOKED, Status.ARRIVED]


def into_the_chair(*, case: Case, actor: Actor, now: datetime) -> None:
    """In the caller's transaction; a desk that is quicker changes nothing about it."""
    today = now.astimezone(case.site.zone).date()
    visits = case.visits.filter(
        purpose=VisitPurpose.CONSULTATION, booking__status__in=_NOT_YET_IN, booking__wall_on=today
    )
    for visit in visits.select_related("booking"):
        try:
            with transaction.atomic():
                diary.check_in(booking=visit.booking, actor=actor, now=now)
        except diary.NotPossibleNow:
            continue

"""Somebody was noted as gone by mistake: the case that was closed for it is open again."""

from datetime import date, datetime, time

from django.utils.translation import gettext as _

from clinic.accounts.dates import day_words
from clinic.diary.engine.working import instant
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from whitening.cases.actions import AlreadyOpen, open_again
from whitening.cases.models import Case, CloseReason


def closed_since(patient: Patient, since: date, actor: Actor, _now: datetime) -> list[str]:
    """Each is told of: what was still to come of its course has left the diary and is booked anew by a person."""
    closed = Case.objects.filter(patient=patient, close_reason__in=_not_so(patient))
    cases = closed.filter(closed_at__gte=instant(since, time(0), patient.site.zone)).select_related("site")
    return [_opened(case, actor) for case in cases.order_by("-pk")]


def _not_so(patient: Patient) -> list[CloseReason]:
    """A note that stands keeps what was closed for it closed."""
    noted = {CloseReason.DIED: patient.died_on, CloseReason.MOVED_AWAY: patient.moved_on}
    return [reason for reason, noted_on in noted.items() if noted_on is None]


def _opened(case: Case, actor: Actor) -> str:
    said = {"day": day_words(case.opened_at, case.site.zone)}
    try:
        open_again(case=case, actor=actor)
    except AlreadyOpen:
        return _("The case of %(day)s stays closed, since a newer one is open. Look at what it says there.") % said
    return _("The case of %(day)s is open again, as it was. Its visits are not: book them anew.") % said

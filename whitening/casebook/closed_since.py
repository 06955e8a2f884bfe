"""Somebody was noted as gone by mistake: which of their cases was closed for it, and stays closed."""

from datetime import date, datetime, time

from django.utils.translation import gettext as _

from clinic.accounts.dates import day_words
from clinic.diary.engine.working import instant
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from whitening.cases.models import Case, CloseReason


def closed_since(patient: Patient, since: date, _actor: Actor, _now: datetime) -> list[str]:
    closed = Case.objects.filter(patient=patient, close_reason__in=[CloseReason.DIED, CloseReason.MOVED_AWAY])
    cases = closed.filter(closed_at__gte=instant(since, time(0), patient.site.zone)).select_related("site")
    return [_stays_closed(case) for case in cases.order_by("pk")]


def _stays_closed(case: Case) -> str:
    said = {"day": day_words(case.opened_at, case.site.zone)}
    return _("The case of %(day)s was closed and stays closed. Open a new case to go on with the treatment.") % said

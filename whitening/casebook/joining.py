"""What the casebook tells of a record that may be joined with another: its courses, and what was signed in them."""

from collections.abc import Iterator
from datetime import datetime

from django.utils.translation import gettext as _

from clinic.accounts.dates import day_words
from clinic.patients import merging
from clinic.patients.models import Patient
from whitening.casebook.facts import stages_of
from whitening.cases.models import Case
from whitening.consent.models import Signature


def _tell(patient: Patient, _now: datetime) -> Iterator[str]:
    cases = list(Case.objects.filter(patient=patient).select_related("site").order_by("-opened_at", "-pk"))
    stages = stages_of([case.pk for case in cases])
    for case in cases:
        words = {"day": day_words(case.opened_at, case.site.zone), "stage": stages[case.pk].label}
        yield _("Case of %(day)s: %(stage)s") % words
    signed = Signature.objects.filter(case__in=cases).select_related("case__site").order_by("-signed_at", "-pk")
    for one in signed:
        yield _("Consent signed on %(day)s") % {"day": day_words(one.signed_at, one.case.site.zone)}


ROOM = merging.Room(code="casebook", tell=_tell)

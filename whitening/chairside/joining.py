"""Two records are one person: not while one of them is in the chair."""

from django.utils.translation import gettext_lazy as _

from clinic.patients import merging
from clinic.patients.merging import Joining
from clinic.trail.refusals import Refusal
from whitening.cases.joining import hold_cases
from whitening.chairside.models import Session


class InTheChair(Refusal):
    code = "chairside.in_the_chair"
    sentence = _("A session of one of these records is open at the chair. Close it first; then join the records.")


def _check(joining: Joining) -> None:
    if Session.objects.filter(case__in=hold_cases(joining), closed_at=None).exists():
        raise InTheChair


ROOM = merging.Room(code="chairside", check=_check)

"""Lead times: from which day on a visit may be, or until when, with the reason and how sure its source is.

Other rooms know them; this room shows them beside the free times of a patient.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.patients.models import Patient

PRACTICE = _("common practice, no source")


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadTime:
    """Of the two days one or both. is_advice: sooner (or later) is possible where a clinician says so."""

    why: StrOrPromise
    source: StrOrPromise = PRACTICE
    first_on: date | None = None
    last_on: date | None = None
    is_advice: bool = False

    @property
    def is_practice(self) -> bool:
        """Nothing is behind it but what practices usually do: said in two words."""
        return str(self.source) == str(PRACTICE)


Provider = Callable[[Patient, User, datetime], Iterable[LeadTime]]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def of_patient(patient: Patient, *, user: User, now: datetime) -> list[LeadTime]:
    """What any visit of this patient that is not booked through another room should keep to."""
    return [lead for provider in _providers for lead in provider(patient, user, now)]


def first_day(leads: Iterable[LeadTime], *, with_advice: bool) -> date | None:
    """The latest of the first days."""
    days = [one.first_on for one in leads if one.first_on and (with_advice or not one.is_advice)]
    return max(days, default=None)


def last_day(leads: Iterable[LeadTime]) -> date | None:
    return min((one.last_on for one in leads if one.last_on), default=None)


def in_order(leads: Iterable[LeadTime], *, today: date, until: date) -> Sequence[LeadTime]:
    """Those that still say something about the days until then: the one that decides first, then what ends."""
    known = list(leads)
    waits = [one for one in known if one.first_on and one.first_on > today]
    ends = [one for one in known if one.last_on and one.last_on <= until and one not in waits]
    return sorted(waits, key=lambda one: one.first_on or today, reverse=True) + ends

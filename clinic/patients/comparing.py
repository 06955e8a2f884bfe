"""Two records side by side: what is the same, what differs, and what the other rooms know of each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import birth_words, day_words
from clinic.patients import merging
from clinic.patients.actions import Details, details_of
from clinic.patients.actions.joined_details import CHOSEN
from clinic.patients.contact import contact
from clinic.patients.models import Patient, Purpose
from clinic.patients.showing import words

_LABELS: dict[str, StrOrPromise] = {
    field.name: field.verbose_name for field in Patient._meta.fields if field.name in CHOSEN
}


@dataclass(frozen=True, slots=True)
class Line:
    """What one and the other record say; several short lines each where there is more to say."""

    label: StrOrPromise
    one: Sequence[StrOrPromise]
    other: Sequence[StrOrPromise]

    @property
    def differs(self) -> bool:
        return [str(said) for said in self.one] != [str(said) for said in self.other]


def label_of(name: str) -> StrOrPromise:
    return _LABELS[name] if name in _LABELS else _("interpreter")


def said_of(details: Details, name: str) -> str:
    """One of CHOSEN, in words; a dash where nothing is said."""
    if name == "interpreter":
        return details.interpreter_language if details.needs_interpreter else "–"
    return words(name, getattr(details, name))


def differing(one: Patient, other: Patient) -> list[str]:
    """The names of CHOSEN in which the two differ."""
    mine, theirs = details_of(one), details_of(other)
    return [name for name in CHOSEN if said_of(mine, name) != said_of(theirs, name)]


def lines(one: Patient, other: Patient, *, now: datetime) -> list[Line]:
    return [
        Line(label, left, right) for (label, left), (_label, right) in zip(_of(one, now), _of(other, now), strict=True)
    ]


def _of(patient: Patient, now: datetime) -> Iterator[tuple[StrOrPromise, list[StrOrPromise]]]:
    details = details_of(patient)
    yield _("Full name"), [patient.name]
    yield _("Date of birth"), [birth_words(patient.birth_on)]
    yield _("Registered"), [day_words(patient.registered_at, patient.site.zone)]
    for name in CHOSEN:
        yield str(label_of(name)).capitalize(), [said_of(details, name)]
    yield _("Allergies"), [patient.allergies or "–"]
    allowed = contact(patient).allowed
    yield _("Does not want"), [one.label for one in Purpose if not allowed[one]] or ["–"]
    yield _("What there is"), merging.told(patient, now=now) or [_("nothing yet")]

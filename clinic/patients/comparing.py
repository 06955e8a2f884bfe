"""Two records side by side: what is the same, what differs, and what the other rooms know of each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import birth_words, day_words
from clinic.patients import merging
from clinic.patients.actions import Details, details_of
from clinic.patients.actions.joined_details import CHOSEN
from clinic.patients.contact import contact
from clinic.patients.models import Patient, Purpose
from clinic.patients.showing import words

# As clinic.patients.showing writes it.
NOTHING = "–"
_PERSONAL = frozenset({"phone", "email", "address"})
_LABELS: dict[str, StrOrPromise] = {
    field.name: field.verbose_name for field in Patient._meta.fields if field.name in CHOSEN
}


@dataclass(frozen=True, slots=True)
class Line:
    """What one and the other record say; several short lines each where there is more to say."""

    label: StrOrPromise
    one: Sequence[StrOrPromise]
    other: Sequence[StrOrPromise] = ()
    is_name: bool = False
    # Tells who somebody is, as a number does: hidden with the names.
    is_personal: bool = False
    # Two records are never alike in when they were made and in what hangs on them.
    is_compared: bool = True

    @property
    def differs(self) -> bool:
        return self.is_compared and _plain(self.one) != _plain(self.other)

    @property
    def says_nothing(self) -> bool:
        return _plain(self.one) == _plain(self.other) == [NOTHING]


def label_of(name: str) -> str:
    return str(capfirst(_LABELS.get(name) or _("interpreter for")))


def said_of(details: Details, name: str) -> str:
    """One of CHOSEN, in words; a dash where nothing is said."""
    if name == "interpreter":
        return details.interpreter_language if details.needs_interpreter else NOTHING
    if name == "timezone":
        return details.timezone or _("as at the practice")
    return words(name, getattr(details, name))


def differing(one: Patient, other: Patient) -> list[str]:
    """The names of CHOSEN in which the two say different things."""
    mine, theirs = details_of(one), details_of(other)
    pairs = {name: (said_of(mine, name), said_of(theirs, name)) for name in CHOSEN}
    return [name for name, (left, right) in pairs.items() if left != right and NOTHING not in (left, right)]


def only_in(patient: Patient, other: Patient) -> frozenset[str]:
    """The names of CHOSEN of which the other record says nothing: nobody means to lose what only one of them has."""
    mine, theirs = details_of(patient), details_of(other)
    return frozenset(name for name in CHOSEN if said_of(mine, name) != said_of(theirs, name) == NOTHING)


def lines(one: Patient, other: Patient, *, now: datetime) -> list[Line]:
    """Without those of which neither says anything."""
    pairs = zip(_of(one, now), _of(other, now), strict=True)
    found = [replace(left, other=right.one) for left, right in pairs]
    return [line for line in found if not line.says_nothing]


def _of(patient: Patient, now: datetime) -> Iterator[Line]:
    details = details_of(patient)
    yield Line(_("Full name"), [patient.name], is_name=True)
    yield Line(_("Date of birth"), [birth_words(patient.birth_on)], is_personal=True)
    registered = day_words(patient.registered_at, patient.site.zone)
    yield Line(_("Registered"), [registered], is_compared=False)
    for name in CHOSEN:
        said, is_name = [said_of(details, name)], name == "preferred_name"
        yield Line(label_of(name), said, is_name=is_name, is_personal=name in _PERSONAL)
    yield Line(_("Allergies"), [patient.allergies or NOTHING])
    allowed = contact(patient).allowed
    unwanted = [one.label for one in Purpose if not allowed[one]]
    yield Line(_("Messages not wanted"), unwanted or [NOTHING])
    yield Line(_("What there is"), merging.told(patient, now=now) or [_("nothing yet")], is_compared=False)


def _plain(said: Sequence[StrOrPromise]) -> list[str]:
    return [str(one) for one in said]

"""What people do in the register: register a patient, change details, record how they want to be reached."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.patients import spelling
from clinic.patients.contact import contact
from clinic.patients.leaving import Leaving, end_what_is_due, give_back
from clinic.patients.models import Channel, ContactChoice, Patient, Purpose
from clinic.patients.person import JoinedMeanwhile, hold_person
from clinic.patients.rules import search_keys
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class BirthInTheFuture(Refusal):
    code = "patients.birth_in_the_future"
    sentence = _("That date of birth lies in the future. Check the year.")


class ChangedMeanwhile(Refusal):
    code = "patients.changed_meanwhile"
    sentence = _(
        "Somebody else changed this patient while you were typing. "
        "Both versions are shown below; save again to keep yours."
    )


@dataclass(frozen=True, slots=True)
class Details:
    """What the register holds of one person. birth_on is the date of birth."""

    name: str
    birth_on: date
    preferred_name: str = ""
    phone: str = ""
    email: str = ""
    address: str = ""
    language: str = "en"
    needs_interpreter: bool = False
    interpreter_language: str = ""
    allergies: str = ""
    own_dentist: str = ""
    channel: str = "email"
    timezone: str = ""


def register_patient(*, site: Site, details: Details, user: User, actor: Actor, now: datetime) -> Patient:
    """Raises BirthInTheFuture, or NotAllowed when the person may not keep the register here."""
    require(user, Capability.PATIENTS_WRITE, site)
    _check_birth(details, site, now)
    with transaction.atomic():
        patient = Patient.objects.create(site=site, registered_at=now, **asdict(details), **search_fields(details))
        spelling.learn(patient.search_name.split())
        note_patient("patients.registered", patient, actor, asdict(details))
    return patient


def change_patient(
    *, patient: Patient, details: Details, seen_version: int, user: User, actor: Actor, now: datetime
) -> Patient:
    """Raises ChangedMeanwhile when somebody saved this patient after the form was opened, or JoinedMeanwhile."""
    require(user, Capability.PATIENTS_WRITE, patient.site)
    _check_birth(details, patient.site, now)
    with transaction.atomic():
        held = Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
        if held.merged_into_id is not None:
            raise JoinedMeanwhile
        if held.version != seen_version:
            raise ChangedMeanwhile
        before = details_of(held)
        if before == details:
            return held
        words = set(held.search_name.split())
        for name, value in (asdict(details) | search_fields(details)).items():
            setattr(held, name, value)
        if held.email != before.email:
            held.email_bounced_at = None  # said about the old address
        if held.phone != before.phone:
            held.phone_wrong_at = None
        held.version += 1
        held.save()
        new_words = set(held.search_name.split())
        spelling.learn(new_words - words)
        spelling.forget(words - new_words)
        note_patient("patients.changed", held, actor, difference(before, details))
    return held


def number_is_wrong(*, patient: Patient, actor: Actor, now: datetime) -> None:
    """Somebody else answered there. Told twice, it is still one mark; another number lifts it."""
    _mark_number(patient, wrong_at=now, verb="patients.number_wrong", actor=actor)


def number_is_right(*, patient: Patient, actor: Actor) -> None:
    """The mark was a slip: somebody had dialled wrongly."""
    _mark_number(patient, wrong_at=None, verb="patients.number_right", actor=actor)


def _mark_number(patient: Patient, *, wrong_at: datetime | None, verb: str, actor: Actor) -> None:
    with transaction.atomic():
        held = hold_person(patient)
        if not held.phone or (held.phone_wrong_at is None) == (wrong_at is None):
            return
        held.phone_wrong_at = wrong_at
        held.save(update_fields=["phone_wrong_at"])
        note_patient(verb, held, actor, {"phone": held.phone.as_e164})


@dataclass(frozen=True, slots=True)
class _Gone:
    """One way in which somebody is no patient here any more: the day on which it was noted, and the trail's words."""

    leaving: Leaving
    noted_on: str
    verb: str
    verb_back: str


_DIED = _Gone(Leaving.DIED, "died_on", "patients.died", "patients.death_taken_back")
_MOVED = _Gone(Leaving.MOVED, "moved_on", "patients.moved_away", "patients.move_taken_back")


def note_death(*, patient: Patient, actor: Actor, now: datetime) -> Patient:
    """From now on nothing is sent and nobody calls. Whoever may close a case may say so; each door asks its right."""
    return _note_gone(patient, _DIED, actor, now)


def take_death_back(*, patient: Patient, user: User, actor: Actor, now: datetime) -> list[str]:
    """It was somebody else, or a slip. Each room gives back what it ended; returned is what a person has to see to."""
    return _take_back(patient, _DIED, user, actor, now)


def note_move(*, patient: Patient, actor: Actor, now: datetime) -> Patient:
    """No reminder, recall or invitation from now on. Whoever may close a case may say so, as of a death."""
    return _note_gone(patient, _MOVED, actor, now)


def take_move_back(*, patient: Patient, user: User, actor: Actor, now: datetime) -> list[str]:
    """They are back, or never left. Each room gives back what it ended; returned is what a person has to see to."""
    return _take_back(patient, _MOVED, user, actor, now)


def _note_gone(patient: Patient, gone: _Gone, actor: Actor, now: datetime) -> Patient:
    """Said again, it stays the same note."""
    with transaction.atomic():
        held = hold_person(patient)
        if getattr(held, gone.noted_on) is None:
            today = now.astimezone(held.site.zone).date()
            _set_gone(held, gone, today)
            note_patient(gone.verb, held, actor, {"noted_on": today})
            end_what_is_due(held, gone.leaving, actor=actor, now=now)
    return held


def _take_back(patient: Patient, gone: _Gone, user: User, actor: Actor, now: datetime) -> list[str]:
    require(user, Capability.PATIENTS_WRITE, patient.site)
    with transaction.atomic():
        held = hold_person(patient)
        since: date | None = getattr(held, gone.noted_on)
        if since is None:
            return []
        _set_gone(held, gone, None)
        note_patient(gone.verb_back, held, actor, {"taken_back_at": now.isoformat()})
        return give_back(held, since=since, actor=actor, now=now)


def _set_gone(held: Patient, gone: _Gone, day: date | None) -> None:
    setattr(held, gone.noted_on, day)
    held.version += 1
    held.save(update_fields=[gone.noted_on, "version"])


def choose_contact(
    *,
    patient: Patient,
    choices: Mapping[Purpose, bool],
    wordings: Mapping[Purpose, str],
    actor: Actor,
    now: datetime,
    channel: Channel | None = None,
) -> list[ContactChoice]:
    """Keeps proof of each choice: who, when, and the very words that were shown. The newest per purpose holds.

    With a channel it is about writing in that way only.
    """
    way = channel or ""
    with transaction.atomic():
        held = hold_person(patient)
        rows = [
            ContactChoice.objects.create(
                patient=held,
                purpose=purpose,
                channel=way,
                allowed=allowed,
                wording=wordings[purpose],
                chosen_at=now,
                chosen_by=actor.name,
            )
            for purpose, allowed in choices.items()
        ]
        said = {str(row.purpose): row.allowed for row in rows}
        note_patient("patients.contact_chosen", held, actor, said | ({"channel": str(way)} if way else {}))
    return rows


def allowed_purposes(patient: Patient) -> dict[Purpose, bool]:
    """What holds now, no matter in which way. See clinic.patients.contact for the ways."""
    return dict(contact(patient).allowed)


def details_of(patient: Patient) -> Details:
    values = {name: getattr(patient, name) for name in Details.__dataclass_fields__}
    return Details(**values | {"phone": patient.phone.as_e164 if patient.phone else ""})


def _check_birth(details: Details, site: Site, now: datetime) -> None:
    if details.birth_on > now.astimezone(site.zone).date():
        raise BirthInTheFuture


def search_fields(details: Details) -> dict[str, str]:
    keys = search_keys(
        name=details.name, preferred_name=details.preferred_name, phone=details.phone, email=details.email
    )
    return {f"search_{name}": value for name, value in asdict(keys).items()}


def difference(before: Details, after: Details) -> dict[str, object]:
    new = asdict(after)
    return {name: {"from": value, "to": new[name]} for name, value in asdict(before).items() if value != new[name]}


def note_patient(verb: str, patient: Patient, actor: Actor, values: Mapping[str, object]) -> None:
    plain = {name: value.isoformat() if isinstance(value, date) else value for name, value in values.items()}
    record(
        verb=verb,
        actor=actor,
        subject=("patient", patient.pk),
        patient_id=patient.pk,
        site_id=patient.site_id,
        values=plain,
    )

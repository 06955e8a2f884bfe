"""These are two people after all: the alias is a record of its own again, with what was moved.

Only while nobody has written anything about either since: afterwards nobody could tell whose it is. What was ended
when they were joined stays ended.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, cast

from django.db import transaction
from django.db.models import Q
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.patients import merging
from clinic.patients.actions.joined_details import choices_back, put
from clinic.patients.actions.joining import JOINED, hold_both, one_behind_the_other
from clinic.patients.actions.registering import details_of, note_patient
from clinic.patients.merging import Joining
from clinic.patients.models import Patient
from clinic.patients.person import person_ids
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.erasure import Unreadable, reveal
from clinic.trail.models import TrailEntry
from clinic.trail.refusals import Refusal

PARTED, PARTED_FROM = "patients.parted", "patients.parted_from"
# Somebody was at a private page, or tried to get there. What they wrote on it has an entry of its own.
_LOOKED = (
    "messages.link_opened",
    "messages.birth_date_wrong",
    "messages.link_ended",
    "messages.new_link_asked",
    "messages.recognised",
    "messages.code_passed",
)
_MARKS = {"email_bounced_at": "email", "phone_wrong_at": "phone"}


class NotJoined(Refusal):
    code = "patients.not_joined"
    sentence = _("This record is not joined with another one. Open the patient again.")


class WrittenSince(Refusal):
    code = "patients.written_since"
    sentence = _(
        "Something was written about this person since: “%(what)s”. Nobody can tell any more which of two people it "
        "is about, so the records stay joined. Register the second person anew, and tell the dentist."
    )


class ErasedSince(Refusal):
    code = "patients.erased_since"
    sentence = _("What was moved when these records were joined has been erased; they stay joined.")


def part_patients(*, alias: Patient, user: User, actor: Actor, now: datetime) -> Patient:
    """Gives the record that is one of its own again. Raises NotJoined, WrittenSince, ErasedSince, InUseNow."""
    require(user, Capability.PATIENTS_MERGE, alias.site)
    with one_behind_the_other(), transaction.atomic():
        kept_id = Patient.objects.values_list("merged_into", flat=True).get(pk=alias.pk)
        if kept_id is None:
            raise NotJoined
        rows = hold_both({alias.pk, kept_id})
        # Joined otherwise, or parted, until it was our turn.
        if rows[alias.pk].merged_into_id != kept_id:
            raise NotJoined
        return _part(Joining(kept=rows[kept_id], other=rows[alias.pk], actor=actor, now=now))


def _part(joining: Joining) -> Patient:
    kept, other = joining.kept, joining.other
    entry, values = _as_joined(joining)
    since = written_since(entry, kept)
    if since is not None:
        raise WrittenSince(what=since.sentence)
    _details_back(joining, values["changed"])
    # Each has its own address again: what went to the other one meanwhile is known by it.
    merging.move_back(joining, cast(Mapping[str, merging.Moved], values["moved"]))
    choices_back(joining, values["choices"])
    Patient.objects.filter(pk__in=values["aliases"], merged_into=kept).update(merged_into=other)
    other.merged_into = other.merged_at = None
    for row in (kept, other):
        row.version += 1
        row.save()
    note_patient(PARTED, kept, joining.actor, {"other": other.pk})
    note_patient(PARTED_FROM, other, joining.actor, {"kept": kept.pk})
    return other


def _as_joined(joining: Joining) -> tuple[TrailEntry, dict[str, Any]]:
    """The entry that joined these two, with all that was moved then."""
    entries = TrailEntry.objects.about("patient", joining.kept.pk).filter(verb=JOINED).order_by("-pk")
    for entry in entries:
        values = reveal(entry)
        if isinstance(values, Unreadable):
            raise ErasedSince
        if values["other"] == joining.other.pk:
            return entry, dict(values)
    # Its record was joined with a third one since: that comes apart first.
    raise WrittenSince(what=_("joined with a further record"))


def written_since(entry: TrailEntry, kept: Patient) -> TrailEntry | None:
    """The first thing that was recorded of this person after they were joined.

    What was due and goes out, and a page that is only opened, say nothing new about anybody.
    """
    sent = Q(actor_kind=SYSTEM.kind, verb__startswith="messages.")
    # A code or a new link; what else a patient does that has a message planned is recorded beside it.
    sent |= Q(actor_kind="patient", verb="messages.planned")
    later = TrailEntry.objects.filter(patient_id__in=person_ids(kept), pk__gt=entry.pk)
    return later.exclude(sent).exclude(verb__in=_LOOKED).order_by("pk").first()


def _details_back(joining: Joining, changed: Mapping[str, Any]) -> None:
    """A mark that came since goes with the address that it was put on."""
    kept, other = joining.both
    since = {
        mark: at
        for mark in _MARKS
        if (at := getattr(kept, mark)) is not None and other.merged_at is not None and at >= other.merged_at
    }
    marked = {mark: _address(kept, mark) for mark in since}
    put(kept, dict.fromkeys(since) | {name: _was(name, change["from"]) for name, change in changed.items()})
    for mark, at in since.items():
        for row in joining.both:
            if _address(row, mark) == marked[mark] and getattr(row, mark) is None:
                setattr(row, mark, at)


def _address(row: Patient, mark: str) -> str:
    return str(getattr(details_of(row), _MARKS[mark])).casefold()


def _was(name: str, value: object) -> object:
    if name in _MARKS:
        return parse_datetime(str(value)) if value else None
    return parse_date(str(value)) if name == "birth_on" else value

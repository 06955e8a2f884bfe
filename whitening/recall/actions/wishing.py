"""The patient's own wish to be reminded about the colour: for one reminder, and each reminder asks anew."""

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from clinic.diary.models import Booking, Status
from clinic.messages.models import Call
from clinic.patients.actions import choose_contact
from clinic.patients.contact import contact
from clinic.patients.models import ContactChoice, Patient, Purpose
from clinic.patients.person import hold_person
from clinic.trail.actor import SYSTEM, Actor
from whitening.recall.models import Recall, RecallKind, RecallState

BATCH = 200
# As long as a visit that was booked may still be lost; common practice, no source.
LOOKED_AFTER = timedelta(days=120)


def ask_about_colour(*, patient: Patient, wording: str, actor: Actor, now: datetime) -> None:
    """Ticked at the review; asked twice, it is still one choice."""
    held = hold_person(patient)
    if not contact(held).allowed[Purpose.COLOUR]:
        _choose(held, wording, allowed=True, actor=actor, now=now)


def end_wish(*, patient: Patient, wording: str, actor: Actor, now: datetime) -> None:
    """In the caller's transaction."""
    held = hold_person(patient)
    _choose(held, wording, allowed=False, actor=actor, now=now)


def end_what_was_met(*, now: datetime) -> None:
    """The reminder has come and was answered, in whatever way: the tick stands no longer until it is made again.

    A visit that was booked has to have taken place: where it is lost, the patient is asked once more. And a call that
    was asked for has to have been made.
    """
    for person in list(_met(now)[:BATCH]):
        with transaction.atomic():
            held = Patient.objects.select_for_update(no_key=True).get(pk=person.pk)
            if _met(now).filter(pk=person.pk).exists():
                _choose(held, _("The reminder that was asked for has come"), allowed=False, actor=SYSTEM, now=now)


def _met(now: datetime) -> QuerySet[Patient]:
    """Whose wish stands although its reminder has done its work."""
    person = Coalesce("case__patient__merged_into", "case__patient")
    newest = ContactChoice.objects.filter(patient=OuterRef("person"), purpose=Purpose.COLOUR, channel="")
    newest = newest.order_by("-chosen_at", "-pk")
    over = Recall.objects.filter(kind=RecallKind.COLOUR, closed_at__gt=now - LOOKED_AFTER).annotate(person=person)
    came = Booking.objects.filter(
        Q(starts_at__gte=OuterRef("due_at")) | Q(ends_at__gte=OuterRef("closed_at")),
        patient=OuterRef("person"),
        status=Status.FULFILLED,
    )
    to_make = Call.objects.open().filter(message__subject_kind="recall", message__subject_id=OuterRef("pk"))
    answered = Q(~Exists(to_make), state__in=[RecallState.ANSWERED, RecallState.NOT_REACHED])
    met = over.filter(answered | Q(Exists(came), state=RecallState.BOOKED))
    wished = met.annotate(
        wished=Subquery(newest.values("allowed")[:1]), wished_at=Subquery(newest.values("chosen_at")[:1])
    )
    people = wished.filter(wished=True, wished_at__lte=F("closed_at")).values("person")
    return Patient.objects.filter(pk__in=people).order_by("pk")


def _choose(held: Patient, wording: str, *, allowed: bool, actor: Actor, now: datetime) -> None:
    words = {Purpose.COLOUR: wording}
    choose_contact(patient=held, choices={Purpose.COLOUR: allowed}, wordings=words, actor=actor, now=now)

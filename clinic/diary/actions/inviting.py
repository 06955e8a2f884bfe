"""Asking a patient to pick the time of a visit alone, by private link; and the time they pick."""

from datetime import datetime, timedelta

from django.db import transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary import own_changes, tidings
from clinic.diary.actions.booking import BookingRequest, book
from clinic.diary.actions.placing import lock, taken_means_taken
from clinic.diary.locks import lock_patient
from clinic.diary.models import COMING, Booking, InvitationEnd, OwnAct, Status, TimeInvitation, VisitCode, VisitType
from clinic.diary.refusals import (
    BookedAlready,
    InvitationOver,
    NotForPatients,
    OutsideOpeningHours,
    TreatmentNeedsItsCase,
)
from clinic.diary.selfservice import inviting
from clinic.diary.selfservice.reading import picking_range
from clinic.messages import actions as messages
from clinic.messages import links
from clinic.messages.models import Ended
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.record import record

# How long somebody may take to pick (common practice, no source).
LASTS = timedelta(days=14)
PICK_LINK = "pick"


def invite(
    *,
    patient: Patient,
    visit_type: VisitType,
    user: User,
    actor: Actor,
    now: datetime,
    cycles: int = 0,
    light_kind: str = "",
    is_agreed: bool = False,
) -> TimeInvitation:
    """Sends the link; where one is open for this visit already, sends that one again.

    is_agreed: a treatment's room says that all is agreed. Raises NotForPatients, TreatmentNeedsItsCase.
    """
    require(user, Capability.DIARY_BOOK, patient.site)
    require(user, Capability.MESSAGES_SEND, patient.site)
    if not (visit_type.active and visit_type.patient_may_book):
        raise NotForPatients
    if visit_type.code == VisitCode.TREATMENT and not is_agreed:
        raise TreatmentNeedsItsCase
    with transaction.atomic():
        lock_patient(patient)
        held = _open_one(patient, visit_type, actor, now)
        if held is None:
            held = TimeInvitation.objects.create(
                site=patient.site,
                patient=patient,
                visit_type=visit_type,
                cycles=cycles,
                light_kind=light_kind,
                made_at=now,
                made_by=actor.name,
                closes_at=now + LASTS,
            )
        else:
            held.times_sent += 1
            held.cycles, held.light_kind, held.closes_at = cycles, light_kind, now + LASTS
            held.save(update_fields=["times_sent", "cycles", "light_kind", "closes_at"])
        _note("diary.invited", held, actor)
        tidings.invited(held, actor=actor, now=now)
    return held


def pick(*, invitation: TimeInvitation, start_at: datetime, actor: Actor, now: datetime) -> Booking:
    """Books what was picked. Raises InvitationOver, BookedAlready, OutsideOpeningHours and what `book` raises."""
    with taken_means_taken(), transaction.atomic():
        # Two presses at once, or a press and the desk: the second waits here and finds the visit of the first.
        lock(invitation.site, invitation.patient, now=now)
        held = _held(invitation, now)
        if (already := booked_since(held)) is not None:
            raise BookedAlready(already)
        asked, room = inviting.of(held, now=now)
        earliest_at, latest_at = picking_range(held, asked.limits, now=now)
        if not earliest_at <= start_at < latest_at:
            raise OutsideOpeningHours
        give = room.book if room is not None else _book
        booking = give(held, start_at, actor, now)
        _end(held, InvitationEnd.PICKED, actor, now, booking=booking)
        own_changes.note(OwnAct.PICKED, booking, actor=actor, now=now)
    return booking


def _book(held: TimeInvitation, start_at: datetime, actor: Actor, now: datetime) -> Booking:
    wish = BookingRequest(held.patient, held.visit_type, start_at, held.cycles, held.light_kind)
    return book(site=held.site, request=wish, actor=actor, now=now)


def take_back(*, invitation: TimeInvitation, user: User, actor: Actor, now: datetime) -> None:
    """Its link opens nothing any more. Raises InvitationOver."""
    require(user, Capability.DIARY_BOOK, invitation.site)
    with transaction.atomic():
        _end(_held(invitation, now), InvitationEnd.TAKEN_BACK, actor, now)


def end_second(invitation: TimeInvitation, *, actor: Actor, now: datetime) -> None:
    """The same person has another one for the same visit, under a record that is joined with this one.

    One that ran out opens nothing as it is, and is only put away.
    """
    rows = TimeInvitation.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "visit_type")
    held = rows.get(pk=invitation.pk)
    if held.ended_at is None:
        _end(held, InvitationEnd.TAKEN_BACK if held.closes_at > now else InvitationEnd.RAN_OUT, actor, now)


def booked_since(invitation: TimeInvitation) -> Booking | None:
    """A visit of this kind that the patient was given after the invitation was sent, whoever booked it.

    A time that is only held, for a call or by the waiting list, was promised to nobody yet.
    """
    rows = Booking.objects.filter(
        patient=invitation.patient,
        visit_type=invitation.visit_type,
        status__in=[status for status in COMING if status != Status.PENDING],
        booked_at__gte=invitation.made_at,
    )
    return rows.select_related("site", "visit_type").order_by("starts_at", "pk").first()


def _open_one(patient: Patient, visit_type: VisitType, actor: Actor, now: datetime) -> TimeInvitation | None:
    """The one that stands. One that ran out or was answered otherwise makes room for a new one."""
    held = TimeInvitation.objects.filter(patient=patient, visit_type=visit_type, ended_at=None).first()
    if held is None:
        return None
    if held.closes_at <= now:
        _end(held, InvitationEnd.RAN_OUT, actor, now)
    elif booked_since(held) is not None:
        _end(held, InvitationEnd.BOOKED_OTHERWISE, actor, now)
    else:
        return held
    return None


def _held(invitation: TimeInvitation, now: datetime) -> TimeInvitation:
    rows = TimeInvitation.objects.select_for_update(no_key=True, of=("self",))
    held = rows.select_related("site", "patient", "visit_type").get(pk=invitation.pk)
    if held.ended_at is not None or held.closes_at <= now:
        raise InvitationOver
    return held


def _end(
    held: TimeInvitation, because: InvitationEnd, actor: Actor, now: datetime, *, booking: Booking | None = None
) -> None:
    held.ended_at, held.ended_because, held.booking = now, because, booking
    held.save(update_fields=["ended_at", "ended_because", "booking"])
    messages.cancel_for(subject=("invitation", held.pk), because="the invitation ended", actor=actor, now=now)
    why = Ended.TAKEN_BACK if because is InvitationEnd.TAKEN_BACK else Ended.DONE
    links.end(purpose=PICK_LINK, subject_id=held.pk, now=now, actor=actor, because=why)
    _note("diary.invitation_ended", held, actor, because=str(because))


def _note(verb: str, invitation: TimeInvitation, actor: Actor, **values: object) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("invitation", invitation.pk),
        patient_id=invitation.patient_id,
        site_id=invitation.site_id,
        values={"visit": invitation.visit_type.name} | values,
    )

"""What the patient is told about a visit: planned in the transaction that changed it."""

from datetime import datetime, timedelta

from django.db.models import QuerySet

from clinic.diary.models import Booking, Status, TimeInvitation
from clinic.diary.reminding import reminders
from clinic.messages import actions as messages
from clinic.messages.actions.byhand import call_off
from clinic.messages.conditions import hours_of_day
from clinic.messages.models import Call, DueMessage
from clinic.trail.actor import Actor

CONFIRMED, PENCILLED, MOVED, CANCELLED, LAPSED, PAGE = (
    "visit_confirmed",
    "visit_pencilled",
    "visit_moved",
    "visit_cancelled",
    "visit_lapsed",
    "visit_page",
)
PICK = "visit_pick"
# Each says how the visit stands from then on.
_NEWS = (CONFIRMED, PENCILLED, MOVED, CANCELLED, LAPSED)
# Higher steps are further tries of the same message.
LINKS_MOST = 100


def booked(booking: Booking, *, actor: Actor, now: datetime) -> None:
    """A pencilled time is only mentioned, a booked one is confirmed with an invitation."""
    _plan(PENCILLED if booking.lapses_at else CONFIRMED, booking, actor, now)
    _remind(booking, actor, now)


def confirmed(booking: Booking, *, actor: Actor, now: datetime) -> None:
    _drop(booking, "confirmed", actor, now)
    _plan(CONFIRMED, booking, actor, now)
    _remind(booking, actor, now)


def moved(booking: Booking, *, actor: Actor, now: datetime) -> None:
    _drop(booking, "moved", actor, now)
    _plan(PENCILLED if booking.lapses_at else MOVED, booking, actor, now)
    _remind(booking, actor, now)


def cancelled(booking: Booking, *, actor: Actor, now: datetime) -> None:
    _drop(booking, "cancelled", actor, now)
    _plan(CANCELLED, booking, actor, now)


def restored(booking: Booking, *, actor: Actor, now: datetime) -> None:
    """It stands after all: said like a new one, and no word of a cancellation that has not gone out yet."""
    _drop(booking, "restored", actor, now)
    booked(booking, actor=actor, now=now)


def lapsed(booking: Booking, *, actor: Actor, now: datetime) -> None:
    _drop(booking, "lapsed", actor, now)
    _plan(LAPSED, booking, actor, now)


def page_again(booking: Booking, *, actor: Actor, now: datetime) -> None:
    """Another link to the page of the visit, on the patient's word or because the first was not used."""
    said = DueMessage.objects.about(("booking", booking.pk)).filter(kind=PAGE, version=booking.version)
    # One that still waits to go out is enough.
    if not said.open().exists():
        _plan(PAGE, booking, actor, now, step=said.filter(step__lt=LINKS_MOST).count())


def is_news(booking: Booking, message: DueMessage) -> bool:
    """Nothing was planned since that says it otherwise.

    The visit's version alone does not tell: it also rises when somebody hears that they come, or when a country
    changes its clock rules, and then there is no newer message.
    """
    if booking.version == message.version:
        return True
    newer = DueMessage.objects.about(("booking", booking.pk)).filter(kind__in=_NEWS, version__gt=message.version)
    return not newer.exists()


def invited(invitation: TimeInvitation, *, actor: Actor, now: datetime) -> None:
    """The link to pick a time; asked for again, it goes out again."""
    subject = ("invitation", invitation.pk)
    messages.plan(
        kind=PICK,
        subject=subject,
        version=invitation.times_sent,
        patient=invitation.patient,
        site=invitation.site,
        due_at=now,
        not_after=invitation.closes_at,
        now=now,
        actor=actor,
    )


def ended(booking: Booking, *, actor: Actor, now: datetime) -> None:
    """Nothing more is said about a visit that is over or did not happen."""
    _drop(booking, "over", actor, now)


def _drop(booking: Booking, because: str, actor: Actor, now: datetime) -> None:
    """Nor does anybody call or post a letter about what no longer stands: the change is told on its own."""
    messages.cancel_for(subject=("booking", booking.pk), because=because, actor=actor, now=now)
    about = Call.objects.open().filter(message__subject_kind="booking", message__subject_id=booking.pk)
    calls = list(about.select_related("message").order_by("pk"))
    if any(call.message.kind == PENCILLED for call in calls) and _pencilled_with(booking).exists():
        # It tells of the others too, and nothing else does.
        calls = [call for call in calls if call.message.kind != PENCILLED]
    call_off(calls, actor=actor, now=now)


def _pencilled_with(booking: Booking) -> QuerySet[Booking]:
    same = Booking.objects.filter(patient=booking.patient_id, site=booking.site_id, booked_at=booking.booked_at)
    return same.filter(status=Status.PROPOSED).exclude(pk=booking.pk)


def _remind(booking: Booking, actor: Actor, now: datetime) -> None:
    """Of a time that is firm. When it changes, these are dropped with everything else that waits about it."""
    if booking.status != Status.BOOKED:
        return
    coming = reminders(starts_at=booking.starts_at, zone=booking.site.zone, hours=hours_of_day(), now=now)
    for kind, due_at, not_after in coming:
        messages.plan(
            kind=kind,
            subject=("booking", booking.pk),
            version=booking.version,
            patient=booking.patient,
            site=booking.site,
            due_at=due_at,
            not_after=not_after,
            now=now,
            actor=actor,
        )


def _plan(kind: str, booking: Booking, actor: Actor, now: datetime, *, step: int = 0) -> None:
    # The version of the booking is the version of the subject: each change is said once.
    messages.plan(
        kind=kind,
        subject=("booking", booking.pk),
        version=booking.version,
        step=step,
        patient=booking.patient,
        site=booking.site,
        due_at=now,
        not_after=max(booking.starts_at, now + timedelta(hours=1)),
        now=now,
        actor=actor,
    )

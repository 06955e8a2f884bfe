"""Times of one patient that were pencilled in one go: one mail tells them all.

Each visit keeps a message of its own, so that one which is moved or called off before anything went out takes only
itself out. The first that is handed over as a mail speaks for the others, whose own are then not wanted any more.
A text has no room for a list: there each goes out by itself.
"""

from django.db.models import Q, QuerySet

from clinic.diary.models import Booking
from clinic.diary.tidings import is_news
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.models import OPEN_STATES, DueMessage, State
from clinic.patients.models import Channel

TOLD = "told together with another visit"


def told_too(booking: Booking, message: DueMessage) -> list[Booking]:
    """The others that this message speaks of; a try on another channel speaks of those that the first one told."""
    if not (_is_of_the_booking(booking, message) or message.step >= NEXT_TRY):
        return []
    others = _booked_with(booking).filter(status=booking.status)
    waits = Q(state__in=OPEN_STATES) | Q(state=State.CANCELLED, reason=TOLD)
    theirs = {row.subject_id: row for row in _about(booking, message).filter(waits)}
    # One that changed since has a newer message.
    return [one for one in others.order_by("starts_at", "pk") if one.pk in theirs and is_news(one, theirs[one.pk])]


def told_with_another(booking: Booking, message: DueMessage) -> bool:
    gone = _about(booking, message).filter(state__in=[State.HANDED_OVER, State.DELIVERED], channel=Channel.EMAIL)
    return _is_of_the_booking(booking, message) and gone.exists()


def _is_of_the_booking(booking: Booking, message: DueMessage) -> bool:
    """Planned when it was booked, and with everything that was booked in the same transaction."""
    return message.step == 0 and message.planned_at == booking.booked_at


def _booked_with(booking: Booking) -> QuerySet[Booking]:
    rows = Booking.objects.filter(patient=booking.patient_id, site=booking.site_id, booked_at=booking.booked_at)
    return rows.exclude(pk=booking.pk).select_related("site", "visit_type")


def _about(booking: Booking, message: DueMessage) -> QuerySet[DueMessage]:
    """What was planned of the others in that moment."""
    rows = DueMessage.objects.filter(subject_kind="booking", subject_id__in=_booked_with(booking).values("pk"))
    return rows.filter(kind=message.kind, planned_at=booking.booked_at, step=0)

"""Somebody was noted as gone by mistake: which visits and waiting-list places they lost. A person gives them back."""

from datetime import date, datetime, time

from django.utils.translation import gettext as _

from clinic.accounts.dates import day_words, moment_words
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, Status, WaitingWish, WishEnd
from clinic.patients.models import Patient
from clinic.trail.actor import Actor


def lost_since(patient: Patient, since: date, _actor: Actor, _now: datetime) -> list[str]:
    """A time that was given up may be somebody else's by now, so nothing is booked again by itself."""
    since_at = instant(since, time(0), patient.site.zone)
    lost = Booking.objects.filter(patient=patient, status=Status.CANCELLED, cancelled_by="practice")
    visits = lost.filter(cancelled_at__gte=since_at).select_related("visit_type", "site").order_by("starts_at", "pk")
    taken_off = WaitingWish.objects.filter(patient=patient, ended_because=WishEnd.REMOVED, ended_at__gte=since_at)
    return [
        *(_cancelled(visit, since) for visit in visits),
        *(_taken_off(wish, since) for wish in taken_off.select_related("visit_type").order_by("pk")),
    ]


def _cancelled(visit: Booking, since: date) -> str:
    said = {
        "visit": visit.visit_type.name,
        "moment": moment_words(visit.starts_at, visit.site.zone),
        "day": day_words(since),
    }
    return _("Cancelled since %(day)s and not given back: %(visit)s, %(moment)s. Book it anew if it is wanted.") % said


def _taken_off(wish: WaitingWish, since: date) -> str:
    said = {"visit": wish.visit_type.name, "day": day_words(since)}
    return _("Off the waiting list since %(day)s: %(visit)s. Put them back on the list if they still wait.") % said

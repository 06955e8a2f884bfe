"""Two records are one person: their visits, times to pick and places on the waiting list come together."""

from collections.abc import Iterator
from datetime import date, datetime
from itertools import product

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from clinic.accounts.dates import clock_words, day_words
from clinic.diary.actions.inviting import end_second
from clinic.diary.actions.placing import TURN_ROUND
from clinic.diary.models import COMING, Booking, Status, TimeInvitation, WaitingWish, WishEnd
from clinic.diary.waitlist.listing import end_wish, wait_since
from clinic.patients import merging
from clinic.patients.merging import Joining, Moved, point_back, repoint
from clinic.patients.models import Patient
from clinic.trail.refusals import Refusal

_HERE = [Status.ARRIVED, Status.CHECKED_IN]
_SHOWN = 6


class HereNow(Refusal):
    code = "diary.here_now"
    sentence = gettext_lazy("This person is at the practice now. Join the records when the visit is over.")


class TwoVisitsAtOnce(Refusal):
    code = "diary.two_visits_at_once"
    sentence = gettext_lazy(
        "Nobody can be at two visits at once: %(one)s on one record, %(other)s on the other. Cancel or move one of "
        "them; then join the records."
    )


def _check(joining: Joining) -> None:
    rows = Booking.objects.filter(patient__in=joining.both, status__in=COMING, ends_at__gt=joining.now)
    coming = list(rows.without_ended_holds(now=joining.now).select_related("visit_type").order_by("starts_at", "pk"))
    if any(booking.status in _HERE for booking in coming):
        raise HereNow
    mine = [booking for booking in coming if booking.patient_id == joining.kept.pk]
    theirs = [booking for booking in coming if booking.patient_id == joining.other.pk]
    for one, other in product(mine, theirs):
        if at_once(one, other):
            raise TwoVisitsAtOnce(one=_words(one), other=_words(other))


def at_once(one: Booking, other: Booking) -> bool:
    """As whoever books is told: in the last minutes, the turn-round, the patient has left the chair."""
    overlap = one.starts_at < other.ends_at - TURN_ROUND and other.starts_at < one.ends_at - TURN_ROUND
    return one.starts_at == other.starts_at or overlap


def _words(booking: Booking) -> str:
    return f"{booking.visit_type.name}, {day_words(booking.wall_on)}, {clock_words(booking.wall_time)}"


def _move(joining: Joining) -> Moved:
    waited = _waits_once(joining)
    _asked_once(joining)
    return {
        # The wishes that got an older day, and beside them their own as numbers of the calendar.
        "waited": list(waited),
        "waited_since": [day.toordinal() for day in waited.values()],
        "bookings": repoint(Booking.objects.all(), joining),
        "wishes": repoint(WaitingWish.objects.all(), joining),
        "invitations": repoint(TimeInvitation.objects.all(), joining),
    }


def _waits_once(joining: Joining) -> dict[int, date]:
    """Of two wishes for one kind of visit the kept record's holds; gives those that got an older day, with their own.

    Nobody loses their place: they have waited as long as on the record on which they waited first.
    """
    waiting = WaitingWish.objects.waiting().filter(booking=None)
    waits = {wish.visit_type_id: wish for wish in waiting.filter(patient=joining.kept)}
    own = {}
    for wish in waiting.filter(patient=joining.other, visit_type__in=waits).order_by("pk"):
        held = waits[wish.visit_type_id]
        if wish.since_on < held.since_on:
            own[held.pk] = held.since_on
            wait_since(held, wish.since_on, actor=joining.actor)
        end_wish(wish, because=WishEnd.REMOVED, actor=joining.actor, now=joining.now)
    return own


def _asked_once(joining: Joining) -> None:
    """Asked twice to pick the same visit: what the kept record has holds, while it stands."""
    asked = TimeInvitation.objects.filter(ended_at=None)
    mine = {one.visit_type_id: one for one in asked.filter(patient=joining.kept)}
    for theirs in asked.filter(patient=joining.other, visit_type__in=mine).order_by("pk"):
        held = mine[theirs.visit_type_id]
        end_second(theirs if held.closes_at > joining.now else held, actor=joining.actor, now=joining.now)


def _back(joining: Joining, moved: Moved) -> None:
    point_back(Booking.objects.all(), joining, moved.get("bookings", ()))
    point_back(WaitingWish.objects.all(), joining, moved.get("wishes", ()))
    point_back(TimeInvitation.objects.all(), joining, moved.get("invitations", ()))
    days = dict(zip(moved.get("waited", ()), moved.get("waited_since", ()), strict=True))
    for wish in WaitingWish.objects.waiting().filter(pk__in=days, patient=joining.kept).order_by("pk"):
        wait_since(wish, date.fromordinal(days[wish.pk]), actor=joining.actor)


def _tell(patient: Patient, now: datetime) -> Iterator[str]:
    rows = Booking.objects.filter(patient=patient)
    over = rows.filter(status=Status.FULFILLED).count()
    if over:
        yield ngettext("%(count)d visit in the past", "%(count)d visits in the past", over) % {"count": over}
    coming = rows.filter(status__in=COMING, ends_at__gt=now).without_ended_holds(now=now).select_related("visit_type")
    for booking in coming.order_by("starts_at", "pk")[:_SHOWN]:
        yield _("Comes: %(visit)s") % {"visit": _words(booking)}
    for wish in WaitingWish.objects.waiting().filter(patient=patient).select_related("visit_type").order_by("pk"):
        yield _("On the waiting list: %(visit)s") % {"visit": wish.visit_type.name}


ROOM = merging.Room(code="diary", check=_check, move=_move, back=_back, tell=_tell)

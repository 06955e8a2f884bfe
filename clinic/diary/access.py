"""The doors to single rows: each gives the row, or 404 without saying whether it exists elsewhere."""

from django.http import Http404

from clinic.accounts.models import User
from clinic.diary.models import Booking, CalendarFeed, CalendarFeedQuerySet, TimeInvitation


def access_booking(*, user: User, pk: int) -> Booking:
    rows = Booking.objects.visible_to(user).select_related("site", "patient", "visit_type")
    booking = rows.filter(pk=pk).first()
    if booking is None:
        raise Http404
    return booking


def access_invitation(*, user: User, pk: int) -> TimeInvitation:
    rows = TimeInvitation.objects.visible_to(user).select_related("site", "patient", "visit_type")
    invitation = rows.filter(pk=pk).first()
    if invitation is None:
        raise Http404
    return invitation


def access_calendar(*, user: User, pk: int) -> CalendarFeed:
    """One of the sites at which the person works; the action asks for the right."""
    return _calendar(CalendarFeed.objects.visible_to(user), pk)


def access_own_calendar(*, user: User, pk: int) -> CalendarFeed:
    return _calendar(CalendarFeed.objects.of_person(user), pk)


def _calendar(rows: CalendarFeedQuerySet, pk: int) -> CalendarFeed:
    feed = rows.select_related("resource__site").filter(pk=pk).first()
    if feed is None:
        raise Http404
    return feed

"""The doors to single rows of the diary."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from clinic.diary.models import (
    Booking,
    CalendarFeed,
    Closure,
    Resource,
    ResourceKind,
    TimeInvitation,
    VisitType,
)


def access_booking(*, user: User, pk: int, to: Capability) -> Booking:
    rows = Booking.objects.visible_to(user).select_related("site", "patient", "visit_type")
    return one_of(rows, user=user, pk=pk, to=to)


def access_invitation(*, user: User, pk: int, to: Capability) -> TimeInvitation:
    rows = TimeInvitation.objects.visible_to(user).select_related("site", "patient", "visit_type")
    return one_of(rows, user=user, pk=pk, to=to)


def access_calendar(*, user: User, pk: int, to: Capability) -> CalendarFeed:
    rows = CalendarFeed.objects.visible_to(user).select_related("resource__site")
    return one_of(rows, user=user, pk=pk, to=to, site="resource.site")


def access_own_calendar(*, user: User, pk: int, to: Capability) -> CalendarFeed:
    rows = CalendarFeed.objects.of_person(user).select_related("resource__site")
    return one_of(rows, user=user, pk=pk, to=to, site="resource.site")


def access_resource(*, user: User, pk: int, to: Capability, kind: ResourceKind | None = None) -> Resource:
    rows = Resource.objects.visible_to(user).select_related("site")
    return one_of(rows if kind is None else rows.filter(kind=kind), user=user, pk=pk, to=to)


def access_visit_type(*, user: User, pk: int, to: Capability) -> VisitType:
    return one_of(VisitType.objects.visible_to(user).select_related("site"), user=user, pk=pk, to=to)


def access_closure(*, user: User, pk: int, to: Capability) -> Closure:
    return one_of(Closure.objects.visible_to(user).select_related("site"), user=user, pk=pk, to=to)

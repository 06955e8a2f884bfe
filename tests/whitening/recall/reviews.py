"""A surgery in which a month review can be booked, and the day on which its invitation goes out."""

from datetime import UTC, date, datetime, time

from clinic.diary import actions as diary
from clinic.diary.actions.setting_up import add_standard_visits
from clinic.diary.models import Booking, Resource, ResourceKind, VisitType, WorkingPattern
from tests.cast import Cast, actor_of
from tests.remembered import remembered

# Day 21 of a session on 3 March.
INVITED = datetime(2026, 3, 24, 10, 0, tzinfo=UTC)


@remembered
def surgery(cast: Cast) -> None:
    """A room and a dentist, weekdays from nine to noon."""
    add_standard_visits(site=cast.fernbrook, actor=actor_of(cast.manager))
    room = Resource.objects.create(site=cast.fernbrook, kind=ResourceKind.ROOM, name="Willow")
    dentist = Resource.objects.create(
        site=cast.fernbrook, kind=ResourceKind.PERSON, name="Cleo Haddad", person=cast.clinician
    )
    for resource in (room, dentist):
        for weekday in range(5):
            WorkingPattern.objects.create(
                resource=resource, weekday=weekday, from_time=time(9), to_time=time(12), from_on=date(2026, 1, 1)
            )


def review_type(cast: Cast) -> VisitType:
    return VisitType.objects.get(site=cast.fernbrook, code="review")


def booked(cast: Cast, start_at: datetime) -> Booking:
    wish = diary.BookingRequest(cast.patient, review_type(cast), start_at)
    return diary.book(site=cast.fernbrook, request=wish, actor=actor_of(cast.desk), now=INVITED)

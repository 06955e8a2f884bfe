"""The due rows of a run: a patient, a visit and one message each, of the program's own kinds.

Every other message carries a private link and is never sent again by itself; the others are sent once more when
nobody knows whether they went out.
"""

from datetime import UTC, datetime, time, timedelta

from django.db import connection

from benchmarks import crowd
from clinic.diary.models import Booking, VisitType
from clinic.diary.reminding import Remind
from clinic.diary.tidings import CONFIRMED
from clinic.messages.models import DueMessage, State
from clinic.patients.models import Patient
from tests.cast import Cast, open_practice

KINDS = (CONFIRMED, Remind.TWO_DAYS_BEFORE.value)
# Of so many rows one of each kind is good for a short time only.
HURRIED = 20
GOOD_FOR = timedelta(hours=12)


def fill(*, count: int, spread_seconds: float, hurried_seconds: float, start_at: datetime) -> None:
    cast = open_practice()
    with crowd.in_bulk(connection):
        crowd.add_patients(connection, count, site=cast.fernbrook.pk)
    people = list(Patient.objects.order_by("pk").values_list("pk", flat=True))
    visit_type = VisitType.objects.create(site=cast.fernbrook, code="other", name="Visit")
    bookings = [_booking(cast, visit_type, pk, number, start_at) for number, pk in enumerate(people)]
    made = Booking.objects.bulk_create(bookings, batch_size=500)
    rows = []
    for number, booking in enumerate(made):
        due_at = start_at + timedelta(seconds=spread_seconds * number / count)
        good_for = timedelta(seconds=hurried_seconds) if number % HURRIED < len(KINDS) else GOOD_FOR
        rows.append(_message(booking, KINDS[number % len(KINDS)], due_at=due_at, good_for=good_for, now=start_at))
    DueMessage.objects.bulk_create(rows, batch_size=500)


def _message(booking: Booking, kind: str, *, due_at: datetime, good_for: timedelta, now: datetime) -> DueMessage:
    return DueMessage(
        site=booking.site,
        patient_id=booking.patient_id,
        subject_kind="booking",
        subject_id=booking.pk,
        kind=kind,
        version=booking.version,
        due_at=due_at,
        not_after=due_at + good_for,
        state=State.PLANNED,
        planned_at=now,
    )


def _booking(cast: Cast, visit_type: VisitType, patient: int, number: int, start_at: datetime) -> Booking:
    starts_at = datetime.combine(start_at.date() + timedelta(days=40 + number % 90), time(10), tzinfo=UTC)
    return Booking(
        site=cast.fernbrook,
        patient_id=patient,
        visit_type=visit_type,
        status="booked",
        wall_on=starts_at.date(),
        wall_time=starts_at.time(),
        zone="UTC",
        starts_at=starts_at,
        ends_at=starts_at + timedelta(hours=1),
        booked_at=start_at,
        booked_by="crowd",
    )

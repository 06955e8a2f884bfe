"""At the desk the month review keeps to the same first day as on the patient's page."""

from datetime import UTC, datetime

import pytest
import time_machine
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.models import Booking
from tests.cast import Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.reviews import INVITED, booked, surgery
from whitening.cases.actions import add_visit
from whitening.cases.models import VisitPurpose
from whitening.chairside.models import Session
from whitening.recall.visits import TooEarlyForReview

pytestmark = pytest.mark.django_db


@pytest.fixture
def session(cast: Cast) -> Session:
    surgery(cast)
    return afterwards.a_closed_session(cast)


EARLY = "2026-03-30T08:00:00+0000"


@pytest.fixture
def booking(cast: Cast, session: Session, clock: time_machine.Traveller) -> Booking:
    clock.move_to(INVITED)
    held = booked(cast, datetime(2026, 4, 1, 8, 0, tzinfo=UTC))
    add_visit(case=session.case, booking=held, purpose=VisitPurpose.REVIEW, actor=actor_of(cast.desk))
    return held


def test_only_times_from_day_28_on_are_offered(cast: Cast, booking: Booking) -> None:
    page = sign_in(cast.desk).get(reverse("booking_move", args=[booking.pk]))
    assert page.context["openings"].found[0].start_at == datetime(2026, 3, 31, 8, 0, tzinfo=UTC)


def test_it_works(cast: Cast, booking: Booking) -> None:
    where = reverse("booking_move", args=[booking.pk])
    sign_in(cast.desk).post(where, {"start_at": "2026-03-31T08:00:00+0000", "version": booking.version})
    booking.refresh_from_db()
    assert booking.starts_at == datetime(2026, 3, 31, 8, 0, tzinfo=UTC)


def test_before_day_28_is_refused_and_says_why(cast: Cast, booking: Booking) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        answer = client.post(
            reverse("booking_move", args=[booking.pk]), {"start_at": EARLY, "version": booking.version}
        )
    assert answer.status_code == 409
    words = answer.content.decode()
    assert "The month review can be from Tue 31 Mar 2026 on" in words
    assert "book a problem visit" in words


def test_nor_by_the_action(cast: Cast, booking: Booking) -> None:
    with nothing_written(), pytest.raises(TooEarlyForReview):
        diary.move(
            booking=booking,
            start_at=datetime(2026, 3, 30, 8, 0, tzinfo=UTC),
            actor=actor_of(cast.desk),
            now=INVITED,
        )


def test_other_visits_go_where_they_like(cast: Cast, session: Session) -> None:
    """A visit of the same kind that is no review of this case."""
    other = booked(cast, datetime(2026, 4, 2, 8, 0, tzinfo=UTC))
    moved = diary.move(
        booking=other, start_at=datetime(2026, 3, 30, 8, 0, tzinfo=UTC), actor=actor_of(cast.desk), now=INVITED
    )
    assert moved.starts_at == datetime(2026, 3, 30, 8, 0, tzinfo=UTC)


def test_the_desk_cannot_book_it_earlier_either(cast: Cast, session: Session, clock: object) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        answer = client.post(reverse("case_time", args=[session.case_id, "review"]), {"start_at": EARLY})
    assert answer.status_code == 409
    assert "The month review can be from Tue 31 Mar 2026 on" in answer.content.decode()

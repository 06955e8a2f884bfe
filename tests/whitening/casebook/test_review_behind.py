"""A session that is moved too near to the booked month review, or past it: whoever moved it reads it at once."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.behind import too_near
from clinic.diary.marks import marks_for
from clinic.diary.models import Booking, Resource
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.cases.actions import close_case
from whitening.cases.models import CaseVisit, CloseReason, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
# The session is on Tuesday 3 March; a week later day 28 is Tuesday 7 April.
WORDS = "can be from Tue 7 Apr 2026 on, day 28 after the last session. Move it too."
ON_TODAY = "Not before Tue 7 Apr 2026; booked for Tue 31 Mar 2026: move it"


@pytest.fixture
def case(cast: Cast) -> Lived:
    return lived.agreed(cast)


@pytest.fixture
def review(case: Lived) -> CaseVisit:
    visit = lived.book(case, VisitPurpose.REVIEW, earliest_at=NOW + timedelta(days=28), at=NOW)
    assert visit.booking.wall_on == date(2026, 3, 31)
    return visit


def session_of(case: Lived) -> Booking:
    assert case.session is not None
    return fresh(case.session)


def move(client: Client, booking: Booking, days: int) -> str:
    sent = {"start_at": (booking.starts_at + timedelta(days=days)).isoformat(), "version": booking.version}
    return client.post(reverse("booking_move", args=[booking.pk]), sent, follow=True).content.decode()


def today(client: Client) -> str:
    return client.get(reverse("today")).content.decode()


def test_the_page_of_the_moved_session_says_it_and_leads_to_the_review(
    cast: Cast, case: Lived, review: CaseVisit
) -> None:
    client, session = sign_in(cast.desk), session_of(case)
    before = client.get(reverse("booking", args=[session.pk])).content.decode()
    assert "Move it too" not in before
    assert ON_TODAY not in today(client)
    page = move(client, session, days=7)
    assert WORDS in page
    assert reverse("booking_move", args=[review.booking_id]) in page
    # It stays a thing to do, on Today and where the review stands.
    assert ON_TODAY in today(client)
    assert f"{review.booking.visit_type.name} · Tue 31 Mar 2026" in today(client)
    mark = marks_for([fresh(review)], user=cast.desk, now=NOW)[review.booking_id]
    assert (mark.kind, mark.move, [str(line) for line in mark.lines]) == ("missing", True, [f"Booked time: {ON_TODAY}"])
    # Who gives no times reads it and is offered nothing.
    page = sign_in(cast.manager).get(reverse("booking", args=[session.pk])).content.decode()
    assert WORDS in page
    assert reverse("booking_move", args=[review.booking_id]) not in page


def test_past_the_review_too_until_the_review_is_moved(cast: Cast, case: Lived, review: CaseVisit) -> None:
    client, session = sign_in(cast.desk), session_of(case)
    move(client, session, days=35)
    assert [one.booking.pk for one in too_near(session_of(case))] == [review.booking_id]
    move(client, fresh(review), days=35)
    assert too_near(session_of(case)) == []
    assert "Booked too early" not in today(client)


def test_dragged_in_the_diary_it_is_said_in_place(cast: Cast, case: Lived, review: CaseVisit) -> None:
    session = session_of(case)
    room = Resource.objects.filter(claims__booking=session, claims__active=True, kind="room").distinct().get()
    sent = {"of": room.pk, "to": room.pk, "version": session.version}
    where, client = reverse("booking_put", args=[session.pk]), sign_in(cast.desk)
    page = client.post(where, sent | {"start_at": (session.starts_at + timedelta(days=7)).isoformat()})
    assert page.status_code == 200
    assert WORDS in page.content.decode()
    back = client.post(where, sent | {"start_at": session.starts_at.isoformat(), "version": session_of(case).version})
    assert (back.status_code, "Move it too" in back.content.decode()) == (200, False)


def test_nothing_of_a_closed_case_or_a_review_that_is_cancelled(cast: Cast, case: Lived, review: CaseVisit) -> None:
    client = sign_in(cast.desk)
    move(client, session_of(case), days=7)
    diary.cancel(booking=fresh(review), by="patient", reason="", actor=actor_of(cast.desk), now=NOW)
    assert too_near(session_of(case)) == []
    diary.take_back(booking=fresh(review), actor=actor_of(cast.desk), now=NOW)
    assert len(too_near(session_of(case))) == 1
    dentist = actor_of(cast.clinician)
    close_case(case=case.case, reason=CloseReason.PATIENT_ENDED, words="", actor=dentist, now=NOW)
    assert too_near(session_of(case)) == []

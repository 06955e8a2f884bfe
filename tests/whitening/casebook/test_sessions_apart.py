"""A session that is moved too near to another one of its course: whoever moved it reads it at once."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.behind import too_near
from clinic.diary.models import Booking, Status
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import CaseVisit, CloseReason, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
WORDS = "is too near now: at least 7 days between sessions are planned. Move one of them."


@pytest.fixture
def course(cast: Cast) -> Lived:
    """Two sessions, on Tuesday 3 March and a week and a day later."""
    course = lived.with_answers(cast)
    lived.examined(course)
    lived.planned(course, sessions=2)
    lived.signed(course)
    lived.confirmed(course)
    return course


@pytest.fixture
def second(course: Lived) -> CaseVisit:
    return lived.book(course, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=8), at=NOW)


def first_of(course: Lived) -> Booking:
    assert course.session is not None
    return fresh(course.session)


def move(client: Client, booking: Booking, days: int) -> str:
    sent = {"start_at": (booking.starts_at + timedelta(days=days)).isoformat(), "version": booking.version}
    return client.post(reverse("booking_move", args=[booking.pk]), sent, follow=True).content.decode()


def test_the_page_of_the_moved_session_says_it_and_leads_to_the_other(
    cast: Cast, course: Lived, second: CaseVisit
) -> None:
    client, first = sign_in(cast.desk), first_of(course)
    assert too_near(first) == []
    # A week apart is what was planned.
    assert "too near" not in move(client, first, days=1)
    page = move(client, first_of(course), days=1)
    assert "session of Wed 11 Mar 2026" in page
    assert WORDS in page
    assert reverse("booking_move", args=[second.booking_id]) in page
    other = client.get(reverse("booking", args=[second.booking_id])).content.decode()
    assert "session of Thu 5 Mar 2026" in other
    assert WORDS in other
    assert reverse("booking_move", args=[first.pk]) in other
    assert "too near" not in move(client, fresh(second), days=1)
    assert too_near(first_of(course)) == []


def test_nothing_of_what_no_longer_stands(cast: Cast, course: Lived, second: CaseVisit) -> None:
    client, desk = sign_in(cast.desk), actor_of(cast.desk)
    move(client, first_of(course), days=2)
    assert len(too_near(first_of(course))) == len(too_near(fresh(second))) == 1
    diary.cancel(booking=fresh(second), by="patient", reason="", actor=desk, now=NOW)
    assert too_near(first_of(course)) == too_near(fresh(second)) == []
    diary.take_back(booking=fresh(second), actor=desk, now=NOW)
    assert len(too_near(first_of(course))) == 1
    dentist = actor_of(cast.clinician)
    close_case(case=course.case, reason=CloseReason.PATIENT_ENDED, words="", actor=dentist, now=NOW)
    assert too_near(first_of(course)) == []


def test_a_cancelled_session_comes_back_beside_another_and_says_so(
    cast: Cast, course: Lived, second: CaseVisit
) -> None:
    client, desk = sign_in(cast.desk), actor_of(cast.desk)
    diary.cancel(booking=first_of(course), by="patient", reason="", actor=desk, now=NOW)
    assert "too near" not in move(client, fresh(second), days=-2)
    page = client.get(reverse("booking", args=[first_of(course).pk])).content.decode()
    assert "too near" not in page
    assert diary.take_back(booking=first_of(course), actor=desk, now=NOW).status == Status.BOOKED
    page = client.get(reverse("booking", args=[first_of(course).pk])).content.decode()
    assert WORDS in page


def test_one_that_comes_back_never_has_the_number_of_another(cast: Cast, course: Lived) -> None:
    desk = actor_of(cast.desk)
    diary.cancel(booking=first_of(course), by="patient", reason="", actor=desk, now=NOW)
    instead = lived.book(course, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=8), at=NOW)
    diary.take_back(booking=first_of(course), actor=desk, now=NOW)
    assert set(course.case.visits.filter(purpose=VisitPurpose.SESSION).values_list("pk", "session_number")) == {
        (instead.pk, 1),
        (course.session.pk if course.session else 0, 2),
    }
    diary.cancel(booking=fresh(instead), by="patient", reason="", actor=desk, now=NOW)
    diary.take_back(booking=fresh(instead), actor=desk, now=NOW)
    instead.refresh_from_db()
    assert instead.session_number == 1


def test_nor_does_one_who_came_after_all(cast: Cast, course: Lived) -> None:
    desk, later = actor_of(cast.desk), first_of(course).starts_at + timedelta(minutes=30)
    diary.no_show(booking=first_of(course), actor=desk, now=later)
    instead = lived.book(course, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=8), at=later)
    assert instead.session_number == 1
    diary.take_back(booking=first_of(course), actor=desk, now=later)
    assert course.session is not None
    course.session.refresh_from_db()
    assert (first_of(course).status, course.session.session_number) == (Status.BOOKED, 2)


def test_who_came_after_all_stays_gone_where_the_case_was_closed(cast: Cast, course: Lived) -> None:
    desk, dentist = actor_of(cast.desk), actor_of(cast.clinician)
    later = first_of(course).starts_at + timedelta(minutes=30)
    diary.no_show(booking=first_of(course), actor=desk, now=later)
    close_case(case=course.case, reason=CloseReason.PATIENT_ENDED, words="", actor=dentist, now=later)
    with nothing_written(), pytest.raises(CaseClosed):
        diary.take_back(booking=first_of(course), actor=desk, now=later)


def test_nothing_comes_back_into_a_closed_case(cast: Cast, course: Lived) -> None:
    desk = actor_of(cast.desk)
    diary.cancel(booking=first_of(course), by="patient", reason="", actor=desk, now=NOW)
    dentist = actor_of(cast.clinician)
    close_case(case=course.case, reason=CloseReason.PATIENT_ENDED, words="", actor=dentist, now=NOW)
    with nothing_written(), pytest.raises(CaseClosed):
        diary.take_back(booking=first_of(course), actor=desk, now=NOW)

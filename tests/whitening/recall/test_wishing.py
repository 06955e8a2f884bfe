"""A wish to be reminded about the colour is for one reminder; whoever wants another one asks again."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.models import Booking, Status, VisitCode, VisitType
from clinic.messages.actions.byhand import settle_call
from clinic.messages.models import Call, DueMessage, Outcome
from clinic.patients.contact import contact
from clinic.patients.models import Purpose
from clinic.trail.actor import SYSTEM
from tests.cast import Cast
from tests.clinic.messages.entering import known
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import later
from tests.whitening.recall.reviews import surgery
from whitening.cases.actions import close_case
from whitening.cases.models import CloseReason
from whitening.chairside.models import Session
from whitening.recall.actions import answer_recall, tick
from whitening.recall.actions.recalling import booked_back, plan_recalls
from whitening.recall.actions.wishing import ask_about_colour
from whitening.recall.asking_back import NEXT_CHECK
from whitening.recall.models import Recall, RecallAnswer, RecallState

pytestmark = pytest.mark.django_db
REVIEWED = later(days=30)
# A Monday, at half past nine by the surgery's clock.
VISIT = datetime(2027, 4, 12, 8, 30, tzinfo=UTC)


@pytest.fixture
def row(cast: Cast) -> Recall:
    """Ticked at the review, and the reminder has gone out a year later."""
    surgery(cast)
    session: Session = afterwards.a_closed_session(cast)
    clinician = cast.clinician.actor
    with transaction.atomic():
        plan_recalls(case=session.case, check_months=None, actor=clinician, now=REVIEWED)
        ask_about_colour(patient=cast.patient, wording="Remind me", actor=clinician, now=REVIEWED)
    close_case(case=session.case, reason=CloseReason.FINISHED, words="", actor=clinician, now=REVIEWED)
    due = Recall.objects.get().due_at
    tick(now=due)
    found = Recall.objects.select_related("case__site", "case__patient").get()
    assert (found.state, DueMessage.objects.filter(kind="colour_reminder").count()) == (RecallState.ASKED, 1)
    return found


def wished(cast: Cast) -> bool:
    return contact(cast.patient).allowed[Purpose.COLOUR]


def books(cast: Cast, row: Recall) -> Booking:
    """By the page of the reminder, a week later; said yes to there and then."""
    consultation = VisitType.objects.get(site=cast.fernbrook, code=VisitCode.CONSULTATION)
    wish = diary.BookingRequest(cast.patient, consultation, VISIT)
    booking = diary.book(site=cast.fernbrook, request=wish, actor=cast.desk.actor, now=row.due_at)
    with transaction.atomic():
        booked_back(row=row, actor=cast.desk.actor, now=row.due_at)
    return booking


def test_a_visit_that_took_place_ends_the_wish(cast: Cast, row: Recall) -> None:
    booking = books(cast, row)
    tick(now=VISIT - timedelta(hours=1))
    assert wished(cast)
    Booking.objects.filter(pk=booking.pk).update(status=Status.FULFILLED)
    tick(now=VISIT + timedelta(hours=1))
    assert not wished(cast)
    said = cast.patient.contact_choices.latest("pk")
    assert (said.wording, said.chosen_by) == ("The reminder that was asked for has come", SYSTEM.name)
    with nothing_written():
        tick(now=VISIT + timedelta(hours=2))


def test_a_visit_that_is_lost_leaves_it_and_they_are_asked_again(cast: Cast, row: Recall) -> None:
    booking = books(cast, row)
    diary.cancel(booking=booking, by="practice", reason="", actor=cast.desk.actor, now=row.due_at)
    tick(now=row.due_at + timedelta(hours=1))
    tick(now=row.due_at + timedelta(days=30))
    assert wished(cast)
    assert DueMessage.objects.filter(kind="colour_reminder").count() == 2


def test_three_silences_end_it(cast: Cast, row: Recall) -> None:
    Recall.objects.update(state=RecallState.NOT_REACHED, closed_at=VISIT, times_asked=3)
    tick(now=VISIT)
    assert not wished(cast)


def test_a_call_that_was_asked_for_is_made_first(cast: Cast, row: Recall) -> None:
    answer_recall(row=row, said=RecallAnswer.CALL, actor=cast.desk.actor, now=row.due_at)
    tick(now=row.due_at)
    assert wished(cast)
    call = Call.objects.open().get()
    settle_call(call=call, outcome=Outcome.REACHED, user=cast.desk, actor=cast.desk.actor, now=row.due_at)
    tick(now=row.due_at)
    assert not wished(cast)


def test_one_that_is_made_anew_stands(cast: Cast, row: Recall) -> None:
    """In the message preferences, after the reminder had been answered."""
    Recall.objects.update(state=RecallState.NOT_REACHED, closed_at=row.due_at, times_asked=3)
    tick(now=row.due_at)
    with transaction.atomic():
        ask_about_colour(
            patient=cast.patient, wording="Remind me", actor=cast.desk.actor, now=row.due_at + timedelta(hours=1)
        )
    tick(now=row.due_at + timedelta(hours=2))
    assert wished(cast)


def test_the_page_says_so(cast: Cast, row: Recall, phone: Client, clock: time_machine.Traveller) -> None:
    clock.move_to(row.due_at)
    session = Session.objects.get()
    page = known(phone, afterwards.address(session, purpose=NEXT_CHECK, subject_id=row.pk, now=row.due_at))
    assert "There is no other one in a later year" in page.get(reverse("next_check")).content.decode()

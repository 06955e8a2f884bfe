"""No visit is left hanging: into the chair with the examination, finished by one key, and asked about the day after."""

from datetime import date, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.models import Booking, Status
from clinic.messages.models import DueMessage
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.casebook.actions.sessions import NothingLeftToTreat
from whitening.cases.actions import close_case
from whitening.cases.models import CaseVisit, CloseReason, VisitPurpose
from whitening.chairside.models import Session

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
LEFT_OPEN = "Left open on earlier days: how did they end?"


@pytest.fixture
def today(cast: Cast) -> Lived:
    """A consultation of today; the patient is here."""
    case = lived.called(cast)
    case.consultation = lived.book(case, VisitPurpose.CONSULTATION, earliest_at=NOW)
    lived.answer(case)
    diary.arrive(booking=consultation(case), actor=actor_of(cast.desk), now=NOW)
    return case


def consultation(case: Lived) -> Booking:
    assert case.consultation is not None
    return fresh(case.consultation)


def page(client: Client, name: str = "today", **args: object) -> str:
    return client.get(reverse(name, kwargs=args)).content.decode()


def key(booking: Booking, act: str) -> str:
    return reverse("booking_act", args=[booking.pk, act])


class TestIntoTheChair:
    def test_with_the_examination(self, today: Lived) -> None:
        lived.examined(today, at=NOW)
        assert consultation(today).status == Status.CHECKED_IN

    def test_with_the_talk(self, cast: Cast, today: Lived) -> None:
        lived.examined(today, at=lived.MONDAY)
        lived.planned(today, at=lived.MONDAY)
        assert consultation(today).status == Status.ARRIVED
        course.talked(cast, today.case, now=NOW)
        assert consultation(today).status == Status.CHECKED_IN

    def test_only_the_one_of_that_day(self, today: Lived) -> None:
        lived.examined(today, at=NOW + timedelta(days=1))
        assert consultation(today).status == Status.ARRIVED

    def test_one_that_is_over_stays_over(self, cast: Cast, today: Lived) -> None:
        diary.finish(booking=consultation(today), actor=actor_of(cast.desk), now=NOW)
        lived.examined(today, at=NOW)
        assert consultation(today).status == Status.FULFILLED


class TestToday:
    def test_the_desk_has_one_key(self, cast: Cast, today: Lived) -> None:
        client, booking = sign_in(cast.desk), consultation(today)
        assert key(booking, "check-in") in page(client)
        lived.examined(today, at=NOW)
        assert key(booking, "finish") in page(client)
        answer = client.post(key(booking, "finish"), {"back": "start"})
        assert answer.headers["Location"] == f"{reverse('today')}?done={booking.pk}#visit_{booking.pk}"
        assert consultation(today).status == Status.FULFILLED
        assert "/act/" not in page(client)

    def test_who_may_not_book_has_none(self, cast: Cast, today: Lived) -> None:
        assert key(consultation(today), "check-in") not in page(sign_in(cast.manager))

    @pytest.mark.parametrize("status", [Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN])
    def test_the_day_after_it_asks(
        self, cast: Cast, today: Lived, clock: time_machine.Traveller, status: Status
    ) -> None:
        Booking.objects.filter(pk=consultation(today).pk).update(status=status)
        assert LEFT_OPEN not in page(sign_in(cast.desk))
        clock.move_to(NOW + timedelta(days=1))
        client = sign_in(cast.desk)
        words = page(client)
        assert LEFT_OPEN in words
        assert key(consultation(today), "finish") in words
        assert (key(consultation(today), "no-show") in words) == (status == Status.BOOKED)
        client.post(key(consultation(today), "finish"))
        assert LEFT_OPEN not in page(client)

    def test_another_site_is_not_asked(self, cast: Cast, today: Lived, clock: time_machine.Traveller) -> None:
        clock.move_to(NOW + timedelta(days=1))
        assert LEFT_OPEN not in page(sign_in(cast.elsewhere_desk))

    def test_a_session_that_runs_is_closed_at_the_chair(self, cast: Cast, clock: time_machine.Traveller) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        assert case.session is not None
        client, booking = sign_in(cast.desk), fresh(case.session)
        assert key(booking, "finish") not in page(client)
        assert "In the chair: close the session there" in page(client)
        # The way there, for whoever may close it; nobody is led to a page that cannot.
        chair = f'href="{reverse("chairside", args=[Session.objects.get().pk])}">In the chair'
        assert chair in page(sign_in(cast.clinician))
        assert ">In the chair: close the session there</a>" not in page(client)

    @pytest.mark.parametrize("act", ["finish", "no-show"])
    @pytest.mark.parametrize("status", [Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN])
    def test_nor_does_its_own_page_end_it(self, cast: Cast, act: str, status: Status) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        assert case.session is not None
        booking = fresh(case.session)
        Booking.objects.filter(pk=booking.pk).update(status=status)
        client, chair = sign_in(cast.desk), reverse("chairside", args=[Session.objects.get().pk])
        words = page(client, "booking", pk=booking.pk)
        assert (key(booking, act) in words, "close the session there" in words, chair in words) == (False, True, False)
        with nothing_written():
            answer = client.post(key(booking, act))
        assert answer.status_code == 409
        assert "Close it at the chair: the visit is finished with it." in answer.content.decode()
        assert f'href="{chair}"' in page(sign_in(cast.clinician), "booking", pk=booking.pk)

    def test_nothing_ahead_is_offered_as_finished(self, cast: Cast) -> None:
        case = lived.called(cast)
        ahead = lived.book(case, VisitPurpose.CONSULTATION, earliest_at=NOW + timedelta(days=1))
        words = page(sign_in(cast.desk), "booking", pk=ahead.booking_id)
        assert [act for act in ("arrive", "finish", "no-show") if key(ahead.booking, act) in words] == []


def over(case: Lived) -> None:
    Session.objects.filter(case=case.case).update(closed_at=NOW + timedelta(hours=2), closed_by=case.cast.clinician)


class TestNothingIsMissingAnyMore:
    def test_while_the_session_runs(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        words = page(sign_in(cast.desk))
        assert "Time since the last session" not in words
        assert "not ready" not in words
        assert "Clear to start" not in page(sign_in(cast.clinician), "case", pk=case.case.pk)

    def test_after_the_last_session(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        over(case)
        lived.put_off(cast, case.case, date(2026, 3, 20))
        more = lived.book(case, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=7), at=NOW)
        words = page(sign_in(cast.desk), "diary_day", day=more.booking.wall_on.isoformat())
        assert "Every planned session is done: cancel this time" in words
        assert "Missing" not in words
        assert "Booked too early" not in page(sign_in(cast.desk))
        assert "waiting until" not in page(sign_in(cast.clinician), "case", pk=case.case.pk)

    def test_a_session_beyond_the_plan_does_not_start(self, cast: Cast, clock: time_machine.Traveller) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        over(case)
        later = NOW + timedelta(days=8)
        case.session = lived.book(case, VisitPurpose.SESSION, earliest_at=later, at=NOW)
        clock.move_to(later)
        with nothing_written(), pytest.raises(NothingLeftToTreat):
            lived.started(case, at=later)

    def test_after_the_case_is_closed(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        close_case(case=case.case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
        words = page(sign_in(cast.desk))
        assert "Missing" not in words
        assert "Clear to start" not in page(sign_in(cast.clinician), "case", pk=case.case.pk)


class TestOpenQuestions:
    ASK, LINK, TABLET = "Answer the questions with the patient here", "Send the link again", "Hand over the tablet"

    def test_the_clinician_asks_here(self, cast: Cast) -> None:
        case = lived.called(cast)
        words = page(sign_in(cast.clinician), "case", pk=case.case.pk)
        assert self.ask(case) in words
        assert self.ASK in words
        # No visit, no page of the patient.
        assert self.LINK not in words

    def test_the_desk_hands_over_or_sends(self, cast: Cast) -> None:
        case = lived.called(cast)
        visit = lived.book(case, VisitPurpose.CONSULTATION, earliest_at=NOW + timedelta(days=1), at=NOW)
        client = sign_in(cast.desk)
        words = page(client, "case", pk=case.case.pk)
        assert self.ask(case) not in words
        assert reverse("booking_tablet", args=[visit.booking_id]) in words
        answer = client.post(reverse("case_link", args=[case.case.pk]), follow=True)
        assert "The link is on its way." in answer.content.decode()
        message = DueMessage.objects.get(kind="visit_page")
        assert (message.subject_id, message.version, message.step) == (visit.booking_id, visit.booking.version, 0)

    def test_one_that_waits_is_enough_and_later_another(self, cast: Cast) -> None:
        case = lived.called(cast)
        lived.book(case, VisitPurpose.CONSULTATION, earliest_at=NOW + timedelta(days=1), at=NOW)
        client, where = sign_in(cast.desk), reverse("case_link", args=[case.case.pk])
        client.post(where)
        client.post(where)
        assert DueMessage.objects.filter(kind="visit_page").count() == 1
        DueMessage.objects.filter(kind="visit_page").update(state="handed_over")
        client.post(where)
        assert sorted(DueMessage.objects.filter(kind="visit_page").values_list("step", flat=True)) == [0, 1]

    def test_without_a_visit_nothing_is_sent(self, cast: Cast) -> None:
        case = lived.called(cast)
        client = sign_in(cast.desk)
        with nothing_written():
            answer = client.post(reverse("case_link", args=[case.case.pk]), follow=True)
        assert "No visit is booked." in answer.content.decode()

    def test_once_answered_only_the_clinician_still_asks_in_private(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        assert CaseVisit.objects.filter(case=case.case).exists()
        for who, asks in ((cast.desk, False), (cast.assistant, False), (cast.clinician, True)):
            words = page(sign_in(who), "case", pk=case.case.pk)
            assert self.LINK not in words
            assert (self.ASK in words) is asks
        lived.examined(case)
        assert self.ASK not in page(sign_in(cast.clinician), "case", pk=case.case.pk)

    def ask(self, case: Lived) -> str:
        return reverse("ask", args=[case.case.pk])


def test_a_second_case_is_led_to_the_first(cast: Cast) -> None:
    case = lived.called(cast)
    client, where = sign_in(cast.desk), reverse("case_new", args=[cast.patient.pk])
    words = client.get(where).content.decode()
    assert reverse("case", args=[case.case.pk]) in words
    assert 'name="wishes"' not in words
    with nothing_written():
        answer = client.post(where, {"wishes": "Once more.", "expected_cycles": "4"})
    assert answer.status_code == 409
    assert reverse("case", args=[case.case.pk]) in answer.content.decode()

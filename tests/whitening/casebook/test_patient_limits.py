"""What patients pick and move alone in a case: nothing that is not agreed, nothing out of its place in the course."""

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.models import Status, TimeInvitation, VisitType
from clinic.diary.refusals import CallUs, NotForPatients, OutsideOpeningHours
from clinic.diary.selfservice.limits import Limits
from clinic.messages.sweep import sweep
from clinic.trail.actor import Actor
from tests.cast import NOW, Cast, sign_in
from tests.clinic.messages.entering import known
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from whitening.casebook.actions import AllHaveTheirTime, NotAgreedYet, invite_to_pick
from whitening.casebook.patient_limits import limits_for, of_move
from whitening.casebook.rules import CLEAN_FROM_DAY
from whitening.cases.actions import close_case
from whitening.cases.models import CaseInvitation, CloseReason, VisitPurpose
from whitening.consent.rules import CONSENT_VALID_DAYS
from whitening.recall.timing import REVIEW_FIRST_DAY
from whitening.screening.reading import examination_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
CONSULTATION, SESSION, REVIEW = VisitPurpose.CONSULTATION, VisitPurpose.SESSION, VisitPurpose.REVIEW


def invited(cast: Cast, life: Lived, purpose: VisitPurpose) -> TimeInvitation:
    return invite_to_pick(case=life.case, purpose=purpose, user=cast.desk, actor=cast.desk.actor, now=NOW)


def allow() -> None:
    VisitType.objects.update(patient_may_book=True)


def phone_in() -> Client:
    sweep(now=NOW)
    found = re.search(r"/p/l/\S+", str(mail.outbox[-1].body))
    assert found is not None
    return known(Client(), found[0])


def words(page: Any) -> str:
    return " ".join(page.content.decode().split())


class TestPicking:
    def test_from_the_case_to_the_booked_consultation(self, cast: Cast) -> None:
        life = lived.called(cast, at=NOW)
        desk, where = sign_in(cast.desk), reverse("case_pick", args=[life.case.pk, CONSULTATION])
        page = reverse("case", args=[life.case.pk])
        link = "Send a link to pick the consultation’s time"
        VisitType.objects.update(patient_may_book=False)
        assert link not in words(desk.get(page))
        with nothing_written(), pytest.raises(NotForPatients):
            invited(cast, life, CONSULTATION)
        allow()
        assert link in words(desk.get(page))
        assert "The link to pick a time is on its way." in words(desk.post(where, follow=True))
        assert desk.post(reverse("case_pick", args=[life.case.pk, "tea"])).status_code == 404
        phone = phone_in()
        first = re.findall(r'name="start_at" value="([^"]+)"', words(phone.get(reverse("pick_time"))))[0]
        done = phone.post(reverse("pick_time"), {"start_at": first}, follow=True)
        assert "Your visit is booked" in words(done)
        visit = life.case.visits.get()
        assert (visit.purpose, visit.booking.status) == (CONSULTATION, Status.BOOKED)
        assert visit.booking.starts_at == datetime.fromisoformat(first)

    def test_a_session_that_is_not_agreed_is_not_offered(self, cast: Cast) -> None:
        life = lived.called(cast, at=NOW)
        allow()
        assert "pick the session’s time" not in words(sign_in(cast.desk).get(reverse("case", args=[life.case.pk])))
        with nothing_written(), pytest.raises(NotAgreedYet):
            invited(cast, life, SESSION)

    def test_an_agreed_session_is_booked_and_not_after_the_case_has_closed(self, cast: Cast) -> None:
        life = lived.agreed(cast)
        for visit in life.case.visits.filter(purpose=SESSION):
            diary.cancel(booking=lived.fresh(visit), by="patient", reason="", actor=cast.desk.actor, now=NOW)
        allow()
        invitation = invited(cast, life, SESSION)
        assert CaseInvitation.objects.get().purpose == SESSION
        phone = phone_in()
        page = phone.get(reverse("pick_time"))
        first = re.findall(r'name="start_at" value="([^"]+)"', words(page))[0]
        # On a page behind the link the practice's own plain word stands; mails do not say it.
        assert "Whitening visit. It takes" in words(page)
        phone.post(reverse("pick_time"), {"start_at": first})
        visit = life.case.visits.get(booking__starts_at=datetime.fromisoformat(first))
        plan = life.case.plans.get()
        assert (visit.booking.status, visit.booking.cycles) == (Status.BOOKED, plan.cycles_per_session)
        assert TimeInvitation.objects.get(pk=invitation.pk).booking_id == visit.booking_id

    def test_no_session_more_than_is_planned(self, cast: Cast) -> None:
        life = lived.agreed(cast)
        visit = life.case.visits.get(purpose=SESSION)
        assert limits_for(life.case, SESSION, now=NOW).is_closed
        with nothing_written(), pytest.raises(AllHaveTheirTime):
            invited(cast, life, SESSION)
        cancelled = diary.cancel(
            booking=lived.fresh(visit), by="practice", reason="", actor=cast.desk.actor, now=NOW - timedelta(hours=1)
        )
        allow()
        invitation = invited(cast, life, SESSION)
        phone = phone_in()
        first = re.findall(r'name="start_at" value="([^"]+)"', words(phone.get(reverse("pick_time"))))[0]
        # It was pressed on the wrong visit: the one planned session has its time again.
        diary.take_back(booking=cancelled, actor=cast.desk.actor, now=NOW - timedelta(hours=1))
        with nothing_written(), pytest.raises(OutsideOpeningHours):
            diary.pick(invitation=invitation, start_at=datetime.fromisoformat(first), actor=life.themselves, now=NOW)
        assert 'name="start_at"' not in words(phone.get(reverse("pick_time")))

    def test_a_session_keeps_its_days_before_a_review_that_is_booked(self, cast: Cast) -> None:
        life = lived.agreed(cast)
        review = lived.book(life, REVIEW, earliest_at=NOW + timedelta(days=60), at=NOW)
        session = lived.fresh(life.case.visits.get(purpose=SESSION))
        diary.cancel(booking=session, by="patient", reason="", actor=cast.desk.actor, now=NOW)
        latest_at = limits_for(life.case, SESSION, now=NOW).latest_at
        assert latest_at is not None
        last_on = review.booking.wall_on - timedelta(days=REVIEW_FIRST_DAY)
        assert (latest_at - timedelta(minutes=1)).astimezone(life.case.site.zone).date() == last_on


class TestMoving:
    def test_a_session_stays_agreed_and_after_its_consultation(self, cast: Cast) -> None:
        life = lived.agreed(cast)
        visit = life.case.visits.get(purpose=SESSION)
        booking = lived.fresh(visit)
        limits = of_move(booking, NOW)
        signed_on = life.case.signatures.get().signed_at.date()
        assert limits is not None
        assert not limits.is_closed
        assert limits.latest_at is not None
        # The examiner dated a cleaning, which settles for a fortnight first.
        examination = examination_of(life.case)
        assert examination is not None
        assert examination.cleaned_on is not None
        assert limits.earliest_at is not None
        assert limits.earliest_at.date() == examination.cleaned_on + timedelta(days=CLEAN_FROM_DAY)
        assert limits.latest_at.astimezone(life.case.site.zone).date() == signed_on + timedelta(
            days=CONSENT_VALID_DAYS + 1
        )
        # A withdrawn plan, here a closed case: only the practice moves what is left.
        close_case(case=life.case, reason=CloseReason.MOVED_AWAY, words="", actor=cast.desk.actor, now=NOW)
        closed = of_move(booking, NOW)
        assert closed is not None
        assert closed.is_closed

    def test_a_session_that_is_only_pencilled(self, cast: Cast) -> None:
        life = lived.called(cast, at=NOW)
        visit = lived.book(life, SESSION, earliest_at=NOW, at=NOW)
        assert limits_for(life.case, SESSION, now=NOW, but=visit.booking) == Limits(is_closed=True)
        themselves = Actor(kind="patient", id=str(life.case.patient_id), name="x")
        with nothing_written(), pytest.raises(CallUs):
            diary.move_visit(booking=lived.fresh(visit), start_at=NOW + timedelta(days=3), actor=themselves, now=NOW)

    def test_a_consultation_stays_before_the_session(self, cast: Cast) -> None:
        life = lived.called(cast, at=NOW)
        first = lived.book(life, CONSULTATION, earliest_at=NOW + timedelta(days=1), at=NOW)
        assert limits_for(life.case, CONSULTATION, now=NOW, but=first.booking) == Limits()
        session = lived.book(life, SESSION, earliest_at=NOW + timedelta(days=6), at=NOW)
        latest_at = limits_for(life.case, CONSULTATION, now=NOW, but=first.booking).latest_at
        assert latest_at is not None
        # The day before the session is the last one.
        assert latest_at.date() == session.booking.wall_on

    def test_a_visit_of_no_case(self, cast: Cast) -> None:
        life = lived.called(cast, at=NOW)
        visit = lived.book(life, CONSULTATION, earliest_at=NOW, at=NOW)
        booking = lived.fresh(visit)
        visit.delete()
        assert of_move(booking, NOW) is None

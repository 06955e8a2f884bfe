"""Find a time: booking the consultation, pencilling the session, confirming it, letting it go."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.models import Booking, Resource, Status, VisitType, WaitingWish
from clinic.messages.sweep import sweep
from clinic.patients.actions import Details, register_patient
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import CALLED, Lived, fresh
from whitening.casebook.actions import (
    NotAgreedYet,
    PlanNeedsAnotherTime,
    VisitWish,
    book_visit,
    confirm_pencilled,
)
from whitening.casebook.actions.ending import end_case
from whitening.casebook.lead_times import earliest_for
from whitening.casebook.wanting import CODES
from whitening.cases.actions import CaseClosed, TooYoung, close_case, open_case
from whitening.cases.models import Case, CaseVisit, CloseReason, PlannedLight, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
LAPSED = "Pencilled times that lapsed"
CONSULTATION, SESSION = VisitPurpose.CONSULTATION, VisitPurpose.SESSION


@pytest.fixture
def call(cast: Cast) -> Lived:
    return lived.called(cast, at=NOW)


def where(case: Case, purpose: str = CONSULTATION) -> str:
    return reverse("case_time", args=[case.pk, purpose])


def offered(client: Client, case: Case, purpose: str = CONSULTATION, query: str = "") -> list[datetime]:
    found = client.get(where(case, purpose) + query).context["openings"].found
    return [opening.start_at for opening in found]


class TestFindATime:
    def test_it_works(self, cast: Cast, call: Lived) -> None:
        """The consultation is booked, then the session pencilled: two presses, and its page says until when."""
        client = sign_in(cast.desk)
        first = offered(client, call.case)[0]
        assert first == NOW
        answer = client.post(where(call.case), {"start_at": first.isoformat()})
        assert answer.headers["Location"] == where(call.case, SESSION)
        second = offered(client, call.case, SESSION)[0]
        # A day to think: not before the day after the consultation.
        assert second == datetime(2026, 3, 4, 8, 30, tzinfo=UTC)
        words = client.post(where(call.case, SESSION), {"start_at": second.isoformat()}, follow=True).content.decode()
        assert "Pencilled. It lapses by itself unless it is confirmed." in words
        assert "pencilled until Tue 3 Mar 2026, 10:00" in " ".join(words.split())
        visits = {visit.purpose: visit for visit in CaseVisit.objects.select_related("booking")}
        assert visits[CONSULTATION].booking.status == Status.BOOKED
        assert visits[SESSION].booking.status == Status.PROPOSED
        assert visits[SESSION].session_number == 1

    def test_back_and_again_says_what_is_pencilled_already(self, cast: Cast, call: Lived) -> None:
        client = sign_in(cast.desk)
        first = offered(client, call.case)[0]
        assert "makes a further visit" not in client.get(where(call.case)).content.decode()
        client.post(where(call.case), {"start_at": first.isoformat()})
        booking = CaseVisit.objects.get().booking
        again = client.get(where(call.case)).content.decode()
        assert reverse("booking", args=[booking.pk]) in again
        assert "A press below makes a further visit." in again
        # Of another kind nothing stands yet.
        assert "makes a further visit" not in client.get(where(call.case, SESSION)).content.decode()

    def test_other_site(self, cast: Cast, call: Lived) -> None:
        client = sign_in(cast.elsewhere_desk)
        with nothing_written():
            assert client.post(where(call.case), {"start_at": NOW.isoformat()}).status_code == 404

    def test_a_purpose_that_there_is_not(self, cast: Cast, call: Lived) -> None:
        assert sign_in(cast.desk).get(where(call.case, "tea")).status_code == 404

    @pytest.mark.parametrize("start_at", ["", "soon", "\0"])
    def test_no_time_at_all(self, cast: Cast, call: Lived, start_at: str) -> None:
        client = sign_in(cast.desk)
        with nothing_written():
            answer = client.post(where(call.case), {"start_at": start_at})
        assert answer.status_code == 422
        assert "Pick one of the free times." in answer.content.decode()

    def test_somebody_was_quicker(self, cast: Cast, call: Lived) -> None:
        client = sign_in(cast.desk)
        first = offered(client, call.case)[0]
        other = lived.called(cast, name="Bo Andersson", at=NOW)
        book_visit(case=other.case, wish=VisitWish(CONSULTATION, first), actor=actor_of(cast.desk), now=NOW)
        with nothing_written():
            answer = client.post(where(call.case), {"start_at": first.isoformat()})
        assert answer.status_code == 409
        assert "Pick one of the next free times." in answer.content.decode()
        left = [opening.start_at for opening in answer.context["openings"].found]
        assert left
        assert first not in left

    def test_from_another_day_on(self, cast: Cast, call: Lived) -> None:
        client = sign_in(cast.desk)
        assert offered(client, call.case, query="?from_on=2026-03-16")[0].date() == date(2026, 3, 16)
        for asked, sentence in (("nonsense", "That is not a date."), ("9999-12-31", "Pick an earlier day.")):
            page = client.get(f"{where(call.case)}?from_on={asked}")
            assert page.status_code == 422
            assert sentence in page.content.decode()

    def test_with_whom_and_when_it_suits(self, cast: Cast, call: Lived) -> None:
        client = sign_in(cast.desk)
        found = offered(client, call.case, query="?weekdays=3&not_before=14:00")
        assert (found[0].weekday(), found[0].hour) == (3, 14)
        dentist = Resource.objects.get(person=cast.clinician)
        query = f"?person={dentist.pk}&weekdays=3&not_before=14:00"
        client.post(where(call.case) + query, {"start_at": found[0].isoformat()})
        visit = call.case.visits.get()
        assert visit.booking.starts_at == found[0]
        assert visit.booking.claims.filter(resource=dentist).exists()

    def test_onto_the_waiting_list_with_what_was_asked(self, cast: Cast, call: Lived) -> None:
        """Before there is a plan either light will do; what is waited for stands beside the free times."""
        client, dentist = sign_in(cast.desk), Resource.objects.get(person=cast.clinician)
        asked = f"?weekdays=5&weekdays=6&over_by=12:00&person={dentist.pk}"
        html = client.get(where(call.case, SESSION) + asked).content.decode()
        link = re.search(r'href="(/patients/\d+/waiting/[^"]*)"', html)
        assert link
        address = link.group(1).replace("&amp;", "&")
        initial = client.get(address).context["form"].initial
        today = {"notice_hours": "0", "since_on": f"{NOW:%Y-%m-%d}"}
        assert client.post(address.partition("?")[0], initial | today).status_code == 302
        wish = WaitingWish.objects.get(patient=call.case.patient, visit_type__code=CODES[SESSION])
        assert (wish.weekdays, str(wish.over_by), wish.person) == ("56", "12:00:00", dentist)
        assert wish.shape == (call.case.expected_cycles, "any")
        again = client.get(where(call.case, SESSION)).content.decode()
        assert "Saturday, Sunday, over by 12:00" in again
        assert "Put on the waiting list once more" in again
        assert "Saturday, Sunday" not in client.get(where(call.case)).content.decode()
        Case.objects.update(closed_at=NOW, close_reason=CloseReason.FINISHED)
        assert "waiting list" not in client.get(where(call.case, SESSION)).content.decode()

    def test_where_the_visit_is_not_set_up(self, cast: Cast, call: Lived) -> None:
        VisitType.objects.update(active=False)
        client = sign_in(cast.desk)
        assert "This kind of visit is not set up here yet." in client.get(where(call.case)).content.decode()
        with nothing_written():
            assert client.post(where(call.case), {"start_at": NOW.isoformat()}).status_code == 409

    def test_of_a_closed_case(self, cast: Cast, call: Lived) -> None:
        close_case(case=call.case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
        with nothing_written(), pytest.raises(CaseClosed):
            book_visit(case=call.case, wish=VisitWish(CONSULTATION, NOW), actor=actor_of(cast.desk), now=NOW)

    def test_of_a_case_that_a_colleague_has_just_closed(self, cast: Cast, call: Lived) -> None:
        """Read before it was closed, and booked after."""
        read_before = Case.objects.select_related("site", "patient").get(pk=call.case.pk)
        close_case(case=call.case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
        with nothing_written(), pytest.raises(CaseClosed):
            book_visit(case=read_before, wish=VisitWish(CONSULTATION, NOW), actor=actor_of(cast.desk), now=NOW)


class TestUnder18:
    def test_no_case_is_opened(self, cast: Cast) -> None:
        client = sign_in(cast.desk)
        teenager = cast.teenager
        with nothing_written():
            answer = client.post(
                reverse("case_new", args=[teenager.pk]), {"wishes": "Lighter.", "expected_cycles": "4"}
            )
        assert answer.status_code == 409
        assert "Whitening not before 12 Aug 2026, the 18th birthday." in answer.content.decode()

    def test_no_session_before_the_birthday(self, cast: Cast) -> None:
        """Eighteen on the day of the call, but the day was written down wrongly then."""
        lived.open_surgery(cast)
        details = Details(name="Jun Park", birth_on=date(2008, 3, 3), email="jun@example.org")
        desk = cast.desk
        patient = register_patient(site=cast.fernbrook, details=details, user=desk, actor=actor_of(desk), now=NOW)
        case = open_case(
            patient=patient, wishes="Lighter.", expected_cycles=4, user=desk, actor=actor_of(desk), now=NOW
        )
        patient.birth_on = date(2008, 3, 10)
        patient.save()
        case.patient.refresh_from_db()
        assert earliest_for(case, SESSION, now=NOW) == datetime(2026, 3, 10, 0, 0, tzinfo=UTC)
        monday = datetime(2026, 3, 9, 9, 0, tzinfo=UTC)
        with nothing_written(), pytest.raises(TooYoung):
            book_visit(case=case, wish=VisitWish(SESSION, monday), actor=actor_of(desk), now=NOW)


class TestConfirming:
    def confirm(self, client: Client, visit: CaseVisit) -> str:
        url = reverse("case_time_confirm", args=[visit.case_id, visit.pk])
        return client.post(url, follow=True).content.decode()

    def test_not_before_all_is_agreed(self, cast: Cast, clock: time_machine.Traveller) -> None:
        clock.move_to(lived.MONDAY)
        case = lived.with_answers(cast)
        assert case.session is not None
        client = sign_in(cast.desk)
        with nothing_written():
            words = self.confirm(client, case.session)
        assert "The consent is not signed and countersigned for this plan yet." in words
        with pytest.raises(NotAgreedYet):
            confirm_pencilled(case=case.case, visit=case.session, actor=actor_of(cast.desk), now=lived.MONDAY)

    def test_after_its_date_it_is_anybodys(self, cast: Cast) -> None:
        """No tick has come yet: it is over all the same, and the page says until when it was held."""
        case = lived.with_answers(cast)
        assert case.session is not None
        client = sign_in(cast.desk)
        with nothing_written():
            words = self.confirm(client, case.session)
        assert "This time was pencilled until Mon 2 Mar 2026, 10:00." in words

    def test_once_agreed_the_desk_confirms_at_the_plans_length(self, cast: Cast, clock: time_machine.Traveller) -> None:
        clock.move_to(lived.MONDAY)
        case = lived.with_answers(cast)
        assert case.session is not None
        before = fresh(case.session)
        lived.examined(case)
        lived.planned(case, cycles_per_session=3)
        lived.signed(case)
        words = self.confirm(sign_in(cast.desk), case.session)
        assert "The time is confirmed." in words
        booking = fresh(case.session)
        assert (booking.status, booking.cycles, booking.light_kind) == (Status.BOOKED, 3, "")
        assert booking.cycle_minutes == 15
        # One cycle less, of twenty minutes.
        assert (booking.starts_at, booking.ends_at) == (before.starts_at, before.ends_at - timedelta(minutes=20))
        sweep(now=lived.MONDAY)
        assert "Your appointment at Fernbrook" in [sent.subject for sent in mail.outbox]

    def test_a_plan_that_does_not_fit_says_so(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        assert case.session is not None
        lived.examined(case)
        lived.planned(case, light=PlannedLight.ARCH)
        lived.signed(case)
        with nothing_written(), pytest.raises(PlanNeedsAnotherTime):
            confirm_pencilled(case=case.case, visit=case.session, actor=actor_of(cast.desk), now=lived.MONDAY)

    def test_today_offers_the_press_once_it_is_agreed(self, cast: Cast, clock: time_machine.Traveller) -> None:
        """Before, it would only be refused; letting go is always possible."""
        clock.move_to(lived.MONDAY)
        case, client = lived.with_answers(cast), sign_in(cast.desk)
        assert case.session is not None
        confirm, let_go = (
            reverse("booking_act", args=[case.session.booking_id, act]) for act in ("confirm", "give-up")
        )
        review = lived.book(case, VisitPurpose.REVIEW, earliest_at=NOW + timedelta(days=30), at=lived.MONDAY)
        behind = reverse("booking_act", args=[review.booking_id, "confirm"])
        before = client.get(reverse("today")).content.decode()
        assert (confirm in before, let_go in before, behind in before) == (False, True, False)
        lived.examined(case)
        lived.planned(case)
        lived.signed(case)
        assert confirm in client.get(reverse("today")).content.decode()

    def test_twice(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        assert case.session is not None
        client = sign_in(cast.desk)
        with nothing_written():
            words = self.confirm(client, case.session)
        assert "so that cannot be done" in words

    def test_of_another_case(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        other = lived.called(cast, name="Bo Andersson")
        assert case.session is not None
        url = reverse("case_time_confirm", args=[other.case.pk, case.session.pk])
        assert sign_in(cast.desk).post(url).status_code == 404


class TestLapsing:
    def test_it_lapses_by_itself_and_both_sides_are_told(
        self, cast: Cast, call: Lived, clock: time_machine.Traveller
    ) -> None:
        visit = lived.book(call, SESSION, earliest_at=NOW + timedelta(days=14), at=NOW)
        held = fresh(visit)
        # Without a consultation: a week from the call, at six in the evening.
        assert held.lapses_at == datetime(2026, 3, 10, 18, 0, tzinfo=UTC)
        assert diary.lapse_due(now=held.lapses_at - timedelta(seconds=1)) == 0
        assert diary.lapse_due(now=held.lapses_at) == 1
        assert diary.lapse_due(now=held.lapses_at) == 0
        assert (fresh(visit).status, fresh(visit).cancelled_by) == (Status.CANCELLED, "lapsed")
        clock.move_to(held.lapses_at + timedelta(minutes=1))
        words = sign_in(cast.desk).get(reverse("today")).content.decode()
        assert LAPSED in words
        assert 'href="tel:+442079460101"' in words.split(LAPSED)[1].split("</section>")[0]
        # It lapsed after the desk went home: next morning and for a week it stands there.
        clock.move_to(held.lapses_at + timedelta(days=1))
        assert LAPSED in sign_in(cast.desk).get(reverse("today")).content.decode()
        clock.move_to(held.lapses_at + timedelta(days=8))
        assert LAPSED not in sign_in(cast.desk).get(reverse("today")).content.decode()
        sweep(now=datetime(2026, 3, 11, 9, 0, tzinfo=UTC))
        assert any("amara@example.org" in sent.to for sent in mail.outbox)

    @pytest.mark.parametrize("since", ["booked anew", "closed"])
    def test_what_was_settled_since_is_not_shown(
        self, cast: Cast, call: Lived, clock: time_machine.Traveller, since: str
    ) -> None:
        visit = lived.book(call, SESSION, earliest_at=NOW + timedelta(days=14), at=NOW)
        lapses_at = fresh(visit).lapses_at
        assert lapses_at is not None
        diary.lapse_due(now=lapses_at)
        later = lapses_at + timedelta(hours=16)
        clock.move_to(later)
        assert LAPSED in sign_in(cast.desk).get(reverse("today")).content.decode()
        if since == "closed":
            Case.objects.filter(pk=call.case.pk).update(closed_at=later, close_reason=CloseReason.values[0])
        else:
            lived.book(call, SESSION, earliest_at=later + timedelta(days=7), at=later)
        assert LAPSED not in sign_in(cast.desk).get(reverse("today")).content.decode()

    def test_the_number_of_a_session_that_fell_out_is_given_again(self, cast: Cast, call: Lived) -> None:
        first = lived.book(call, SESSION, earliest_at=NOW + timedelta(days=2), at=NOW)
        second = lived.book(call, SESSION, earliest_at=NOW + timedelta(days=9), at=NOW)
        assert (first.session_number, second.session_number) == (1, 2)
        diary.cancel(booking=fresh(first), by="patient", reason="", actor=actor_of(cast.desk), now=NOW)
        third = lived.book(call, SESSION, earliest_at=NOW + timedelta(days=2), at=NOW)
        assert third.session_number == 1


class TestFromWhenOn:
    def test_a_session_comes_after_the_consultation(self, cast: Cast, call: Lived) -> None:
        assert earliest_for(call.case, SESSION, now=NOW) == NOW
        lived.book(call, CONSULTATION, earliest_at=NOW + timedelta(days=3), at=NOW)
        assert earliest_for(call.case, SESSION, now=NOW) == datetime(2026, 3, 7, 0, 0, tzinfo=UTC)

    def test_the_next_session_keeps_the_plans_distance(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        lived.examined(case)
        lived.planned(case, sessions=2, least_days_between=5)
        assert earliest_for(case.case, SESSION, now=lived.MONDAY) == datetime(2026, 3, 8, 0, 0, tzinfo=UTC)

    def test_the_review_comes_on_day_28(self, cast: Cast, call: Lived) -> None:
        assert earliest_for(call.case, VisitPurpose.REVIEW, now=NOW) == NOW
        lived.book(call, SESSION, earliest_at=NOW + timedelta(days=1), at=NOW)
        # 4 March and 28 days: 1 April, by then on summer time.
        assert earliest_for(call.case, VisitPurpose.REVIEW, now=NOW) == datetime(2026, 3, 31, 23, 0, tzinfo=UTC)

    def test_a_problem_visit_at_once(self, cast: Cast, call: Lived) -> None:
        assert earliest_for(call.case, VisitPurpose.PROBLEM, now=CALLED) == CALLED


def test_closing_takes_what_was_to_come_out_of_the_diary(cast: Cast) -> None:
    case = lived.with_answers(cast)
    assert case.session is not None
    problem = lived.book(case, VisitPurpose.PROBLEM, earliest_at=NOW + timedelta(days=1), at=NOW)
    answer = sign_in(cast.desk).post(
        reverse("case_close", args=[case.case.pk]), {"reason": "patient_decided_against", "words": "Too dear."}
    )
    assert answer.status_code == 302
    assert fresh(case.session).status == Status.CANCELLED
    assert fresh(problem).status == Status.BOOKED
    assert Booking.objects.filter(status=Status.CANCELLED).count() == 1
    case.case.refresh_from_db()
    assert (case.case.close_reason, case.case.close_words) == ("patient_decided_against", "Too dear.")


class TestOtherVisits:
    @pytest.mark.parametrize("purpose", [VisitPurpose.CLEANING, VisitPurpose.IMPRESSIONS, VisitPurpose.FITTING])
    def test_a_case_has_them_too(self, cast: Cast, call: Lived, purpose: VisitPurpose) -> None:
        client = sign_in(cast.desk)
        assert where(call.case, purpose) in client.get(where(call.case)).content.decode()
        start_at = offered(client, call.case, purpose)[0]
        answer = client.post(where(call.case, purpose), {"start_at": start_at.isoformat()})
        assert answer.headers["Location"] == reverse("case", args=[call.case.pk])
        booked = call.case.visits.get(purpose=purpose).booking
        assert (booked.status, booked.visit_type.code) == (Status.BOOKED, CODES[purpose])

    def test_a_cleaning_outlives_the_case(self, cast: Cast, call: Lived) -> None:
        """What belongs to the course goes with it; a cleaning is of use without."""
        for days, purpose in enumerate((VisitPurpose.CLEANING, VisitPurpose.IMPRESSIONS, VisitPurpose.FITTING), 1):
            lived.book(call, purpose, earliest_at=NOW + timedelta(days=days), at=NOW)
        end_case(
            case=call.case,
            reason=CloseReason.PATIENT_DECIDED_AGAINST,
            words="",
            user=cast.desk,
            actor=actor_of(cast.desk),
            now=NOW,
        )
        left = call.case.visits.filter(booking__status=Status.BOOKED).values_list("purpose", flat=True)
        assert list(left) == [VisitPurpose.CLEANING]

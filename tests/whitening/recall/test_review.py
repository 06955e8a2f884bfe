"""The month review: picked by link from real openings, recorded by a clinician, and the end of the case."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse

from clinic.accounts.rights import NotAllowed
from clinic.diary import actions as diary
from clinic.diary.models import Booking, OwnChange, Status, VisitType
from clinic.messages.models import DueMessage, PrivateLink, State
from clinic.messages.sweep import sweep
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.messages.entering import CLOSED, known
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import later
from tests.whitening.recall.reviews import INVITED, booked, surgery
from whitening.cases.actions import CaseClosed, add_visit, close_case
from whitening.cases.models import CloseReason, Moment, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall.actions import (
    NothingToReview,
    ReviewDetails,
    ReviewedAlready,
    TooEarlyToReview,
    record_review,
    tick,
)
from whitening.recall.kinds import REVIEW
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState, Review, ReviewDecision, Satisfaction

pytestmark = pytest.mark.django_db
PICK = "/p/review/"


@pytest.fixture
def session(cast: Cast) -> Session:
    surgery(cast)
    return afterwards.a_closed_session(cast)


@pytest.fixture
def page(session: Session, phone: Client, clock: time_machine.Traveller) -> Client:
    clock.move_to(INVITED)
    return known(phone, afterwards.address(session, purpose=REVIEW, now=INVITED))


def offered(page: Client, query: str = "") -> list[datetime]:
    days = page.get(PICK + query).context["found"].days
    return [opening.start_at for one in days for opening in one.few]


def details(**changed: object) -> ReviewDetails:
    fields: dict[str, object] = {
        "tab": "A1",
        "sensitivity": 0,
        "satisfaction": Satisfaction.HAPPY,
        "gums_quiet": True,
        "decision": ReviewDecision.FINISHED,
    }
    return ReviewDetails(**(fields | changed))  # type: ignore[arg-type]  # every test names what differs


def recorded(cast: Cast, session: Session, *, days: float = 30, **changed: object) -> Review:
    return record_review(
        case=session.case,
        details=details(**changed),
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=later(days=days),
    )


class TestPickingATime:
    def test_it_works(self, page: Client, cast: Cast, session: Session) -> None:
        times = offered(page)
        # First, middle and last free time of four days from day 28 on; nine in London is eight here by then.
        assert times[:3] == [
            datetime(2026, 3, 31, 8, 0, tzinfo=UTC),
            datetime(2026, 3, 31, 9, 15, tzinfo=UTC),
            datetime(2026, 3, 31, 10, 30, tzinfo=UTC),
        ]
        assert len(times) == 12
        answer = page.post(PICK, {"start_at": times[1].isoformat()}, follow=True)
        assert "Your month review is booked" in answer.content.decode()
        assert "Tue 31 Mar 2026, 10:15" in answer.content.decode()
        visit = session.case.visits.get(purpose=VisitPurpose.REVIEW)
        assert (visit.booking.starts_at, visit.booking.status) == (times[1], Status.BOOKED)
        assert visit.booking.booked_by == "Amara Nwosu"

    def test_looking_writes_nothing(self, page: Client) -> None:
        with nothing_written():
            assert page.get(PICK).status_code == 200

    def test_wrong_method(self, page: Client) -> None:
        assert page.put(PICK).status_code == 405

    def test_later_days(self, page: Client) -> None:
        assert offered(page, "?from_on=2026-04-20")[0] == datetime(2026, 4, 20, 8, 0, tzinfo=UTC)
        # Nonsense, and days before the first one, are the first day.
        assert offered(page, "?from_on=soon") == offered(page, "?from_on=2026-01-01") == offered(page)
        last = offered(page, "?from_on=2026-05-01")
        assert {time.date() for time in last} == {date(2026, 5, 1)}
        assert offered(page, "?from_on=2026-07-01") == []

    def test_past_the_last_day_the_way_back_is_shown(self, page: Client) -> None:
        """Four days may have been all there were: that none is free later is no reason to call."""
        html = page.get(PICK, {"from_on": "2026-07-01"}).content.decode()
        assert "No later day is free." in html
        assert html.count("Back to the first days") == 1
        assert "no free time here now" not in html
        assert "Back to the first days" not in page.get(PICK).content.decode()

    def test_it_says_how_long_it_takes_here(self, page: Client, session: Session) -> None:
        for segment in VisitType.objects.get(site=session.case.site, code="review").segments.all():
            segment.minutes += 10
            segment.save()
        opening = page.get(PICK).context["found"].days[0].few[0]
        minutes = (opening.end_at - opening.start_at) // timedelta(minutes=1)
        assert minutes >= 35
        assert f"It takes about {minutes} minutes. One press books it." in page.get(PICK).content.decode()

    @pytest.mark.parametrize("start_at", ["", "soon", "2026-03-25T09:00:00+0000", "2026-05-05T09:00:00+0000"])
    def test_a_time_that_was_not_offered(self, page: Client, start_at: str) -> None:
        with nothing_written():
            answer = page.post(PICK, {"start_at": start_at})
        assert answer.status_code == 422
        assert "Pick one of the free times." in answer.content.decode()

    def test_somebody_was_quicker(self, page: Client, cast: Cast) -> None:
        first = offered(page)[0]
        booked(cast, first)
        with nothing_written():
            answer = page.post(PICK, {"start_at": first.isoformat()})
        assert answer.status_code == 409
        words = answer.content.decode()
        assert "taken that time. Pick one of these." in words
        assert "09:30" in words

    def test_lost_at_the_very_last_moment(self, page: Client, monkeypatch: pytest.MonkeyPatch) -> None:
        def taken(**_given: object) -> Booking:
            raise diary.SlotTaken

        first = offered(page)[0]
        monkeypatch.setattr("whitening.recall.views.picking.diary.book", taken)
        with nothing_written():
            answer = page.post(PICK, {"start_at": first.isoformat()})
        assert answer.status_code == 409
        assert "Somebody else has just taken that time. Pick one of these." in answer.content.decode()
        assert first in [opening.start_at for one in answer.context["found"].days for opening in one.few]

    def test_a_refusal_names_no_other_visit(self, page: Client, monkeypatch: pytest.MonkeyPatch) -> None:
        """The desk's words for it do."""

        def busy(**_given: object) -> Booking:
            raise diary.PatientBusy(visit="Whitening session, 09:00")

        first = offered(page)[0]
        monkeypatch.setattr("whitening.recall.views.picking.diary.book", busy)
        with nothing_written():
            answer = page.post(PICK, {"start_at": first.isoformat()})
        words = answer.content.decode()
        assert (answer.status_code, "You have another visit with us at that time." in words) == (409, True)
        assert "Whitening session, 09:00" not in words

    def test_pressed_twice_books_once(self, page: Client) -> None:
        first, second = offered(page)[:2]
        for each in (first, second):
            page.post(PICK, {"start_at": each.isoformat()})
        assert [booking.starts_at for booking in Booking.objects.all()] == [first]
        # The desk reads it on Today, once, like every time that somebody has picked alone.
        assert [one.act for one in OwnChange.objects.all()] == ["picked"]

    def test_where_patients_may_not_book(self, page: Client, cast: Cast) -> None:
        VisitType.objects.update(patient_may_book=False)
        assert "There is no free time here now." in page.get(PICK).content.decode()
        with nothing_written():
            assert page.post(PICK, {"start_at": "2026-03-31T09:00:00+0000"}).status_code == 409

    def test_not_before_day_21_and_not_after_day_60(
        self, session: Session, phone: Client, clock: time_machine.Traveller
    ) -> None:
        where = afterwards.address(session, purpose=REVIEW)
        last = datetime(2026, 5, 2, 22, 59, 59, tzinfo=UTC)
        for at, status in (
            (INVITED - timedelta(seconds=1), CLOSED),
            (INVITED, 200),
            (last, 200),
            (last + timedelta(seconds=1), CLOSED),
        ):
            clock.move_to(at)
            assert phone.get(where).status_code == status

    def test_a_link_for_answers_opens_no_other_page(
        self, session: Session, phone: Client, clock: time_machine.Traveller
    ) -> None:
        clock.move_to(INVITED)
        known(phone, afterwards.address(session, now=INVITED))
        assert phone.get(PICK).status_code == CLOSED


class TestTheInvitation:
    def test_it_goes_out_on_day_21(self, session: Session) -> None:
        sweep(now=INVITED - timedelta(minutes=1))
        before = len(mail.outbox)
        sweep(now=INVITED)
        assert [sent.subject for sent in mail.outbox[before:]] == ["Pick a time at Fernbrook"]

    def test_not_to_somebody_who_has_a_time(self, cast: Cast, session: Session) -> None:
        booking = booked(cast, datetime(2026, 4, 1, 8, 0, tzinfo=UTC))
        add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=actor_of(cast.desk))
        sweep(now=INVITED)
        message = DueMessage.objects.get(kind="review_invitation")
        assert (message.state, message.reason) == (State.CANCELLED, "booked already")

    def test_not_when_the_case_is_closed(self, cast: Cast, session: Session) -> None:
        close_case(
            case=session.case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=later(days=3)
        )
        sweep(now=INVITED)
        message = DueMessage.objects.get(kind="review_invitation")
        assert (message.state, message.reason) == (State.CANCELLED, "the case is closed")

    def test_who_picks_no_time_is_asked_again_on_day_28(self, session: Session) -> None:
        sweep(now=INVITED)
        again = datetime(2026, 3, 31, 9, 0, tzinfo=UTC)
        sweep(now=again - timedelta(minutes=1))
        before = len(mail.outbox)
        sweep(now=again)
        assert [sent.subject for sent in mail.outbox[before:]] == ["Your next visit at Fernbrook still has no time"]

    def test_who_has_a_time_by_then_is_not(self, cast: Cast, session: Session) -> None:
        sweep(now=INVITED)
        booking = booked(cast, datetime(2026, 4, 1, 8, 0, tzinfo=UTC))
        add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=actor_of(cast.desk))
        sweep(now=datetime(2026, 3, 31, 9, 0, tzinfo=UTC))
        message = DueMessage.objects.get(kind="review_reminder")
        assert (message.state, message.reason) == (State.CANCELLED, "booked already")

    def test_silence_is_a_call_while_a_week_of_the_window_is_left(self, cast: Cast, session: Session) -> None:
        tick(now=datetime(2026, 4, 7, 8, 59, tzinfo=UTC))
        review = afterwards.follow_up(session, FollowUpKind.REVIEW)
        assert review.state == FollowUpState.ASKED
        tick(now=datetime(2026, 4, 7, 9, 0, tzinfo=UTC))
        review.refresh_from_db()
        assert review.state == FollowUpState.CALL

    def test_a_late_time_is_no_silence(self, cast: Cast, session: Session) -> None:
        booking = booked(cast, datetime(2026, 4, 28, 8, 0, tzinfo=UTC))
        add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=actor_of(cast.desk))
        tick(now=datetime(2026, 4, 20, 9, 0, tzinfo=UTC))
        assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == FollowUpState.ASKED
        diary.no_show(booking=booking, actor=actor_of(cast.desk), now=later(days=56))
        Booking.objects.update(status=Status.NOSHOW)
        tick(now=datetime(2026, 4, 29, 9, 0, tzinfo=UTC))
        assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == FollowUpState.CALL


class TestRecordingIt:
    def test_it_closes_the_case_and_its_pages(self, cast: Cast, session: Session) -> None:
        for purpose in ("how_are_you", REVIEW):
            afterwards.address(session, purpose=purpose)
        review = recorded(cast, session)
        session.case.refresh_from_db()
        assert (session.case.close_reason, session.case.closed_at) == (CloseReason.FINISHED, later(days=30))
        assert (review.shade.tab, review.shade.moment, review.shade.provisional) == ("A1", Moment.REVIEW, False)
        assert (review.is_late, review.reviewed_by) == (False, cast.clinician)
        assert not PrivateLink.objects.filter(ended_at=None).exists()
        assert {row.kind: row.state for row in FollowUp.objects.all()} == {
            FollowUpKind.TWO_DAY: FollowUpState.CANCELLED,
            FollowUpKind.REVIEW: FollowUpState.DONE,
        }

    def test_each_follow_up_that_ends_with_it_has_its_entry_and_a_new_version(
        self, cast: Cast, session: Session
    ) -> None:
        before = {row.pk: row.version for row in FollowUp.objects.all()}
        recorded(cast, session)
        for row in FollowUp.objects.all():
            assert (row.version, row.ended_by_leaving) == (before[row.pk] + 1, False)
            entry = TrailEntry.objects.about("follow_up", row.pk).order_by("-pk")[0]
            verb = "recall.review_done" if row.kind == FollowUpKind.REVIEW else "recall.not_needed"
            assert (entry.verb, entry.actor_name) == (verb, "Cleo Haddad")

    @pytest.mark.parametrize(("days", "late"), [(42, False), (43, True)])
    def test_late_is_accepted_and_marked(self, cast: Cast, session: Session, days: int, late: bool) -> None:
        assert recorded(cast, session, days=days).is_late is late

    def test_it_belongs_to_the_visit_of_that_day(self, cast: Cast, session: Session) -> None:
        booking = booked(cast, datetime(2026, 4, 2, 8, 0, tzinfo=UTC))
        add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=actor_of(cast.desk))
        assert recorded(cast, session).booking == booking

    def test_twice(self, cast: Cast, session: Session) -> None:
        recorded(cast, session)
        with nothing_written(), pytest.raises(ReviewedAlready):
            recorded(cast, session)

    def test_two_at_once(self, cast: Cast, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
        """Both looked before either wrote: the database lets one through."""
        recorded(cast, session)
        monkeypatch.setattr("whitening.recall.actions.reviewing.reviewable", lambda *_case, now: NOW.date())
        with nothing_written(), pytest.raises(ReviewedAlready):
            recorded(cast, session)

    def test_too_early(self, cast: Cast, session: Session) -> None:
        with nothing_written(), pytest.raises(TooEarlyToReview, match="from Tue 31 Mar 2026 on"):
            recorded(cast, session, days=27.5)

    def test_before_any_session_is_closed(self, cast: Cast) -> None:
        session = chairs.a_session(cast)
        with nothing_written(), pytest.raises(NothingToReview):
            recorded(cast, session)

    def test_of_a_case_that_ended_otherwise(self, cast: Cast, session: Session) -> None:
        close_case(
            case=session.case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=later(days=3)
        )
        with nothing_written(), pytest.raises(CaseClosed):
            recorded(cast, session)

    def test_not_by_the_desk(self, cast: Cast, session: Session) -> None:
        with nothing_written(), pytest.raises(NotAllowed):
            record_review(
                case=session.case,
                details=details(),
                user=cast.desk,
                actor=actor_of(cast.desk),
                now=later(days=30),
            )


class TestThePageOfTheReview:
    POSTED = {
        "tab": "A1",
        "sensitivity": "1",
        "satisfaction": "4",
        "gums_quiet": "yes",
        "decision": "top_up",
        "words": "Just right.",
        "next_check": "12",
    }

    def test_it_works(self, cast: Cast, session: Session, clock: time_machine.Traveller) -> None:
        clock.move_to(later(days=50))
        client = sign_in(cast.clinician)
        where = reverse("review", args=[session.case_id])
        assert "Month review of" in client.get(where).content.decode()
        answer = client.post(where, self.POSTED, follow=True)
        words = answer.content.decode()
        for shown in (
            "The review is recorded and the case is closed.",
            "top-up: a new case with its own examination",
            "late: after day 42",
            "“Just right.”",
        ):
            assert shown in words

    def test_fillings_to_match_next(self, cast: Cast, session: Session, clock: time_machine.Traveller) -> None:
        clock.move_to(later(days=30))
        client = sign_in(cast.clinician)
        where = reverse("review", args=[session.case_id])
        answer = client.post(where, self.POSTED | {"decision": "restore"}, follow=True)
        assert "fillings or crowns to match next" in answer.content.decode()
        assert "late" not in answer.content.decode()

    def test_unfinished(self, cast: Cast, session: Session, clock: time_machine.Traveller) -> None:
        clock.move_to(later(days=30))
        client = sign_in(cast.clinician)
        with nothing_written():
            answer = client.post(reverse("review", args=[session.case_id]), {"words": "Just right."})
        assert answer.status_code == 422
        assert "Pick the tab that matches." in answer.content.decode()
        assert "Just right." in answer.content.decode()

    def test_too_early_is_said_before_anything_is_typed(
        self, cast: Cast, session: Session, clock: time_machine.Traveller
    ) -> None:
        answer = sign_in(cast.clinician).get(reverse("review", args=[session.case_id]))
        assert answer.status_code == 409
        assert "The colour has not settled yet" in answer.content.decode()
        assert "Record the review" not in answer.content.decode()

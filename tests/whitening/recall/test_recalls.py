"""Asked back after the review: planned with it, asked three times at most, ended by whatever ends it."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary import actions as diary
from clinic.diary.models import Booking, VisitCode, VisitType
from clinic.messages.actions.byhand import settle_call
from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.messages.sweep import sweep
from clinic.patients import leaving
from clinic.patients.actions import choose_contact
from clinic.patients.contact import contact
from clinic.patients.leaving import Leaving
from clinic.patients.models import Channel, Purpose
from clinic.trail.models import TrailEntry
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.messages.entering import known
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import later
from tests.whitening.recall.reviews import surgery
from whitening.cases.actions import close_case, open_case
from whitening.cases.models import CloseReason
from whitening.chairside.models import Session
from whitening.recall import funnel
from whitening.recall.actions import ReviewDetails, answer_recall, recalling, record_review, tick
from whitening.recall.actions.recalling import plan_recalls
from whitening.recall.asking_back import NEXT_CHECK
from whitening.recall.models import Recall, RecallAnswer, RecallKind, RecallState, ReviewDecision, Satisfaction

pytestmark = pytest.mark.django_db
REVIEWED = later(days=30)
# Six months after Thursday 2 April 2026, at ten on the surgery's clock (British Summer Time).
DUE = datetime(2026, 10, 2, 9, 0, tzinfo=UTC)
YEAR = datetime(2027, 4, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def session(cast: Cast) -> Session:
    surgery(cast)
    return afterwards.a_closed_session(cast)


def reviewed(cast: Cast, session: Session, *, months: int | None = 6, colour: str = "") -> None:
    details = ReviewDetails(
        tab="A1",
        sensitivity=0,
        satisfaction=Satisfaction.HAPPY,
        gums_quiet=True,
        decision=ReviewDecision.FINISHED,
        check_months=months,
        colour_wording=colour,
    )
    record_review(case=session.case, details=details, user=cast.clinician, actor=actor_of(cast.clinician), now=REVIEWED)


def recall(kind: RecallKind = RecallKind.CHECK) -> Recall:
    return Recall.objects.select_related("case__site", "case__patient").get(kind=kind)


def asked(kind: str = "check_recall") -> list[DueMessage]:
    return list(DueMessage.objects.filter(kind=kind).order_by("step"))


class TestPlanning:
    def test_it_works(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session)
        assert (recall().due_at, recall().state, asked()) == (DUE, RecallState.WAITING, [])
        assert recall(RecallKind.COLOUR).due_at == YEAR

    def test_none_where_somebody_else_sees_to_it(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session, months=None)
        assert list(Recall.objects.values_list("kind", flat=True)) == [RecallKind.COLOUR]

    def test_the_colour_wish_is_kept_with_the_words_that_were_ticked(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session, colour="Remind me in about a year")
        kept = cast.patient.contact_choices.get(purpose=Purpose.COLOUR)
        assert (kept.allowed, kept.wording) == (True, "Remind me in about a year")

    def test_the_form_ticks_nothing_beforehand(
        self, cast: Cast, session: Session, clock: time_machine.Traveller
    ) -> None:
        clock.move_to(REVIEWED)
        form = sign_in(cast.clinician).get(reverse("review", args=[session.case_id])).context["form"]
        assert (form["next_check"].value(), form["colour"].value()) == (None, None)


class TestAsking:
    def test_it_works(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session)
        tick(now=DUE - timedelta(minutes=1))
        assert asked() == []
        for _twice in range(2):
            tick(now=DUE)
        assert [(one.step, one.due_at) for one in asked()] == [(0, DUE)]
        assert (recall().state, recall().times_asked) == (RecallState.ASKED, 1)

    def test_three_times_and_then_no_more(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session)
        for days in range(200):
            tick(now=DUE + timedelta(days=days, hours=3))
            sweep(now=DUE + timedelta(days=days, hours=3))
        gaps = [(one.due_at - DUE).days for one in asked()]
        assert gaps == [0, 28, 56]
        assert (recall().state, recall().times_asked) == (RecallState.NOT_REACHED, 3)

    def test_about_the_colour_only_where_it_was_ticked(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session, months=None)
        tick(now=YEAR)
        assert asked("colour_reminder") == []
        assert recall(RecallKind.COLOUR).state == RecallState.CANCELLED

    def test_about_the_colour_where_it_was_ticked_during_the_year(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session, months=None)
        choose_contact(
            patient=cast.patient,
            choices={Purpose.COLOUR: True},
            wordings={Purpose.COLOUR: "Remind me"},
            actor=actor_of(cast.desk),
            now=later(days=200),
        )
        tick(now=YEAR)
        assert [one.due_at for one in asked("colour_reminder")] == [YEAR]

    def test_not_after_a_no_to_such_messages(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session)
        choose_contact(
            patient=cast.patient,
            choices={Purpose.RECALL: False},
            wordings={Purpose.RECALL: "No more"},
            actor=actor_of(cast.desk),
            now=later(days=100),
        )
        tick(now=DUE)
        assert (asked(), recall().state) == ([], RecallState.CANCELLED)

    def test_what_never_went_out_was_not_asked(self, cast: Cast, session: Session) -> None:
        """Set-up lacks a number, so that no link can go out for half a year."""
        reviewed(cast, session)
        Site.objects.update(emergency_number="")
        for days in range(180):
            tick(now=DUE + timedelta(days=days, hours=3))
            sweep(now=DUE + timedelta(days=days, hours=3))
        assert {one.state for one in asked()} <= {State.MISSED, State.DUE}
        assert recall().state == RecallState.ASKED

    def test_while_a_new_case_is_open_it_waits(self, cast: Cast, session: Session) -> None:
        """An enquiry that comes to nothing ends nothing."""
        reviewed(cast, session)
        desk = actor_of(cast.desk)
        case = open_case(
            patient=cast.patient, wishes="", expected_cycles=3, user=cast.desk, actor=desk, now=later(days=100)
        )
        tick(now=DUE)
        assert (asked(), recall().state) == ([], RecallState.WAITING)
        close_case(
            case=case, reason=CloseReason.PATIENT_DECIDED_AGAINST, words="", actor=desk, now=DUE + timedelta(days=1)
        )
        tick(now=DUE + timedelta(days=29))
        assert [one.step for one in asked()] == [0]

    @pytest.mark.parametrize(
        ("outcome", "state"),
        [(Outcome.NOT_NEEDED, RecallState.ANSWERED), (Outcome.LEFT_MESSAGE, RecallState.ASKED)],
    )
    def test_an_answer_by_telephone_is_one(
        self, cast: Cast, session: Session, outcome: Outcome, state: RecallState
    ) -> None:
        reviewed(cast, session)
        cast.patient.channel = Channel.PHONE
        cast.patient.save(update_fields=["channel"])
        tick(now=DUE)
        sweep(now=DUE)
        desk = actor_of(cast.desk)
        settle_call(call=asked()[0].call, outcome=outcome, user=cast.desk, actor=desk, now=DUE)
        tick(now=DUE + timedelta(days=29))
        assert recall().state == state

    @pytest.mark.parametrize("how", Leaving)
    def test_not_after_a_death_or_a_move(self, cast: Cast, session: Session, how: Leaving) -> None:
        reviewed(cast, session)
        tick(now=DUE)
        leaving.end_what_is_due(cast.patient, how, actor=actor_of(cast.desk), now=DUE + timedelta(hours=1))
        assert set(Recall.objects.values_list("state", flat=True)) == {RecallState.CANCELLED}
        assert [one.state for one in asked()] == [State.CANCELLED]
        ended = TrailEntry.objects.filter(verb="recall.recall_ended")
        assert ended.count() == 2

    def test_an_earlier_course_asks_no_more_after_a_later_review(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session)
        case = open_case(
            patient=cast.patient, wishes="", expected_cycles=3, user=cast.desk, actor=actor_of(cast.desk), now=REVIEWED
        )
        with transaction.atomic():
            plan_recalls(case=case, check_months=12, actor=actor_of(cast.clinician), now=later(days=90))
        assert [(row.case, row.state) for row in Recall.objects.filter(kind=RecallKind.CHECK)] == [
            (session.case, RecallState.CANCELLED),
            (case, RecallState.WAITING),
        ]

    def test_one_that_fails_keeps_no_other_from_being_asked(
        self, cast: Cast, session: Session, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        reviewed(cast, session, colour="Remind me")
        Recall.objects.update(next_at=DUE)
        first = Recall.objects.order_by("pk")[0].pk
        step = recalling._step

        def failing(row: Recall, now: datetime) -> None:
            if row.pk == first:
                raise RuntimeError
            step(row, now)

        monkeypatch.setattr(recalling, "_step", failing)
        with pytest.raises(ExceptionGroup):
            tick(now=DUE)
        assert sorted(Recall.objects.values_list("state", flat=True)) == [RecallState.ASKED, RecallState.WAITING]


class TestTheirPage:
    @pytest.fixture
    def page(self, cast: Cast, session: Session, phone: Client, clock: time_machine.Traveller) -> Client:
        VisitType.objects.filter(code=VisitCode.CONSULTATION).update(patient_may_book=True)
        reviewed(cast, session)
        tick(now=DUE)
        clock.move_to(DUE)
        where = afterwards.address(session, purpose=NEXT_CHECK, subject_id=recall().pk, now=DUE)
        return known(phone, where)

    def test_a_time_is_picked(self, page: Client, cast: Cast) -> None:
        found = page.get(reverse("next_check")).context["found"]
        first = found.days[0].few[0].start_at
        before = Booking.objects.count()
        answer = page.post(reverse("next_check"), {"start_at": first.isoformat()}, follow=True)
        booking = Booking.objects.latest("pk")
        assert "Your visit is booked" in answer.content.decode()
        assert answer.context["booking"] == booking
        assert (Booking.objects.count(), booking.starts_at, booking.patient) == (before + 1, first, cast.patient)
        assert recall().state == RecallState.BOOKED
        assert asked()[0].state == State.CANCELLED
        with nothing_written():
            page.post(reverse("next_check"), {"start_at": first.isoformat()})

    def test_a_visit_that_is_cancelled_is_asked_about_again(self, page: Client, cast: Cast) -> None:
        first = page.get(reverse("next_check")).context["found"].days[0].few[0].start_at
        page.post(reverse("next_check"), {"start_at": first.isoformat()})
        tick(now=DUE + timedelta(hours=1))
        assert recall().state == RecallState.BOOKED
        booking = Booking.objects.latest("pk")
        diary.cancel(booking=booking, by="patient", reason="", actor=actor_of(cast.desk), now=DUE + timedelta(hours=1))
        for _twice in range(2):
            tick(now=DUE + timedelta(hours=2))
        assert (recall().state, recall().closed_at) == (RecallState.ASKED, None)
        tick(now=DUE + timedelta(days=29))
        assert [one.step for one in asked() if one.state != State.CANCELLED] == [1]

    def test_a_call_that_the_visit_made_needless_is_no_answer(self, page: Client, cast: Cast) -> None:
        """Where the visit is lost, nobody has said that they do not want one."""
        message = asked()[0]
        Call.objects.create(message=message, site=message.site, patient=message.patient, why=Why.PREFERS, wanted_at=DUE)
        first = page.get(reverse("next_check")).context["found"].days[0].few[0].start_at
        page.post(reverse("next_check"), {"start_at": first.isoformat()})
        assert Call.objects.get().outcome == Outcome.OVER
        booking = Booking.objects.latest("pk")
        diary.cancel(booking=booking, by="patient", reason="", actor=actor_of(cast.desk), now=DUE + timedelta(hours=1))
        tick(now=DUE + timedelta(hours=2))
        tick(now=DUE + timedelta(days=29))
        assert (recall().state, len(asked())) == (RecallState.ASKED, 2)

    def test_a_time_that_was_not_offered_books_nothing(self, page: Client) -> None:
        with nothing_written():
            answer = page.post(reverse("next_check"), {"start_at": DUE.isoformat()})
        assert answer.status_code == 422

    @pytest.mark.parametrize(("said", "calls"), [(RecallAnswer.CALL, 1), (RecallAnswer.NO, 0)])
    def test_another_answer(self, page: Client, said: RecallAnswer, calls: int) -> None:
        for _twice in range(2):
            page.post(reverse("next_check"), {"answer": said.value})
        assert (recall().state, recall().answer, Call.objects.open().count()) == (RecallState.ANSWERED, said, calls)
        tick(now=DUE + timedelta(days=28))
        assert len(asked()) == 1

    def test_a_call_is_open_again_after_an_earlier_one(self, page: Client, cast: Cast) -> None:
        message, desk = asked()[0], actor_of(cast.desk)
        call = Call.objects.create(
            message=message, site=message.site, patient=message.patient, why=Why.UNCERTAIN, wanted_at=DUE
        )
        settle_call(call=call, outcome=Outcome.LEFT_MESSAGE, user=cast.desk, actor=desk, now=DUE)
        page.post(reverse("next_check"), {"answer": "call"})
        assert [one.why for one in Call.objects.open()] == [Why.PREFERS]
        assert TrailEntry.objects.filter(verb="messages.became_a_call").count() == 1

    def test_nobody_rings_after_a_no(self, page: Client) -> None:
        message = asked()[0]
        Call.objects.create(
            message=message, site=message.site, patient=message.patient, why=Why.UNCERTAIN, wanted_at=DUE
        )
        page.post(reverse("next_check"), {"answer": "no"})
        assert list(Call.objects.open()) == []

    def test_a_no_about_the_colour_ends_the_wish(self, page: Client, cast: Cast) -> None:
        row = recall(RecallKind.COLOUR)
        choose_contact(
            patient=cast.patient,
            choices={Purpose.COLOUR: True},
            wordings={Purpose.COLOUR: "Remind me"},
            actor=actor_of(cast.desk),
            now=DUE,
        )
        answer_recall(row=row, said=RecallAnswer.NO, actor=actor_of(cast.desk), now=YEAR)
        assert not contact(cast.patient).allowed[Purpose.COLOUR]

    def test_after_the_third_silence_they_can_still_come(self, page: Client) -> None:
        Recall.objects.filter(pk=recall().pk).update(state=RecallState.NOT_REACHED, closed_at=DUE, times_asked=3)
        first = page.get(reverse("next_check")).context["found"].days[0].few[0].start_at
        page.post(reverse("next_check"), {"start_at": first.isoformat()})
        assert recall().state == RecallState.BOOKED

    def test_no_second_visit_for_whoever_is_coming(self, page: Client, cast: Cast) -> None:
        first = page.get(reverse("next_check")).context["found"].days[0].few[0].start_at
        wish = diary.BookingRequest(cast.patient, VisitType.objects.get(code=VisitCode.PROBLEM), first)
        held = diary.book(site=cast.fernbrook, request=wish, actor=actor_of(cast.desk), now=DUE)
        assert page.get(reverse("next_check")).context["booking"] == held
        with nothing_written():
            page.post(reverse("next_check"), {"start_at": (first + timedelta(days=7)).isoformat()})

    def test_where_only_the_practice_books_such_visits_it_says_so(self, page: Client) -> None:
        VisitType.objects.update(patient_may_book=False)
        words = page.get(reverse("next_check")).content.decode()
        assert "Call us, or let us call you" in words
        with nothing_written():
            answer = page.post(reverse("next_check"), {"start_at": (DUE + timedelta(days=3)).isoformat()})
        assert answer.status_code == 422

    def test_it_offers_no_treatment(self, page: Client) -> None:
        words = page.get(reverse("next_check")).content.decode().lower()
        assert "whiten" not in words.replace("whitening casebook", "")


def test_the_list_names_nobody_who_ticked_nothing(cast: Cast, session: Session) -> None:
    reviewed(cast, session, months=None)
    assert list(funnel.coming(cast.desk, now=YEAR)) == []


def test_staff_see_how_far_it_came(cast: Cast, session: Session, clock: time_machine.Traveller) -> None:
    reviewed(cast, session)
    tick(now=DUE)
    clock.move_to(DUE + timedelta(days=1))
    answer = sign_in(cast.desk).get(reverse("recalls"))
    check = answer.context["funnels"][0]
    assert (check.due, check.asked, check.answered, check.booked, check.not_reached) == (1, 1, 0, 0, 0)
    assert [row.pk for row in answer.context["page"]] == [recall().pk]
    elsewhere = sign_in(cast.elsewhere).get(reverse("recalls"))
    assert (elsewhere.context["funnels"][0].due, list(elsewhere.context["page"])) == (0, [])


@pytest.mark.parametrize(
    ("reviewed_on", "months", "due_on"),
    [
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2026, 10, 25), 12, date(2027, 10, 25)),
    ],
)
def test_the_end_of_a_month_stays_its_end(cast: Cast, reviewed_on: date, months: int, due_on: date) -> None:
    from whitening.recall import timing  # noqa: PLC0415  (beside what it is about)

    zone = cast.fernbrook.zone
    at = datetime.combine(reviewed_on, datetime.min.time(), tzinfo=zone) + timedelta(hours=12)
    due_at = timing.recall_due(at, months=months, zone=zone).astimezone(zone)
    assert (due_at.date(), due_at.hour) == (due_on, 10)

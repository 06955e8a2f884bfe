"""Silence becomes a call, calls end somehow, and a worrying answer ends with words only."""

import re
from datetime import UTC, date, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.messages.models import Call
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import WELL_POSTED, later
from whitening.cases.actions import close_case
from whitening.cases.models import CloseReason
from whitening.chairside.models import Session
from whitening.recall.actions import (
    AlreadyClosed,
    CalledMeanwhile,
    NeedsWords,
    close_escalation,
    log_attempt,
    record_reply,
    tick,
)
from whitening.recall.models import (
    Attempt,
    AttemptResult,
    Escalation,
    FollowUp,
    FollowUpKind,
    FollowUpState,
    Reply,
    Urgency,
)

pytestmark = pytest.mark.django_db
DAY_TWO = datetime(2026, 3, 5, 10, 0, tzinfo=UTC)
DAY_FOUR = datetime(2026, 3, 7, 10, 0, tzinfo=UTC)


@pytest.fixture
def session(cast: Cast) -> Session:
    return afterwards.a_closed_session(cast)


def check(session: Session) -> FollowUp:
    return afterwards.follow_up(session, FollowUpKind.TWO_DAY)


def tried(cast: Cast, follow_up: FollowUp, result: AttemptResult, *, hours: float = 0) -> Attempt:
    return log_attempt(
        follow_up=follow_up,
        seen_version=follow_up.version,
        result=result,
        words="",
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=later(days=4, hours=hours),
    )


def settled(cast: Cast, escalation: Escalation, words: str) -> Escalation:
    return close_escalation(
        escalation=escalation, words=words, user=cast.clinician, actor=actor_of(cast.clinician), now=later(hours=1)
    )


def test_a_silent_check_becomes_a_call_on_day_four(session: Session) -> None:
    assert tick(now=later(hours=40)) == 0
    assert check(session).state == FollowUpState.WAITING
    assert tick(now=DAY_TWO) == 0
    assert check(session).state == FollowUpState.ASKED
    assert tick(now=datetime(2026, 3, 7, 9, 59, tzinfo=UTC)) == 0
    assert tick(now=DAY_FOUR) == 1
    assert check(session).state == FollowUpState.CALL
    assert TrailEntry.objects.filter(verb="recall.became_a_call", actor_kind="system").count() == 1


def test_a_tick_more_changes_nothing(session: Session) -> None:
    tick(now=DAY_FOUR)
    with nothing_written():
        assert tick(now=DAY_FOUR) == 0


def test_an_answer_in_time_is_no_call(cast: Cast, session: Session) -> None:
    tick(now=DAY_TWO)
    record_reply(session=session, answers=afterwards.WELL, actor=actor_of(cast.desk), now=later(days=3))
    assert tick(now=DAY_FOUR) == 0
    assert check(session).state == FollowUpState.ANSWERED


def test_more_than_one_batch_becomes_calls(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("whitening.recall.actions.ending.BATCH", 1)
    assert tick(now=later(days=43)) == 2


def test_after_a_death_nobody_calls(cast: Cast, session: Session) -> None:
    cast.patient.died_on = date(2026, 3, 4)
    cast.patient.save()
    assert tick(now=DAY_FOUR) == 0
    assert set(FollowUp.objects.values_list("state", flat=True)) == {FollowUpState.CANCELLED}
    assert TrailEntry.objects.filter(verb="recall.not_needed").count() == 2


def test_who_ends_the_course_is_asked_all_the_same(cast: Cast, session: Session) -> None:
    close_case(
        case=session.case, reason=CloseReason.PATIENT_ENDED, words="", actor=actor_of(cast.desk), now=later(hours=1)
    )
    assert tick(now=DAY_FOUR) == 1
    assert check(session).state == FollowUpState.CALL
    assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == FollowUpState.CANCELLED


@pytest.mark.parametrize("result", [AttemptResult.REACHED, AttemptResult.WANTS_VISIT])
def test_reached_is_done(cast: Cast, session: Session, result: AttemptResult) -> None:
    tick(now=DAY_FOUR)
    tried(cast, check(session), result)
    follow_up = check(session)
    assert (follow_up.state, follow_up.closed_at) == (FollowUpState.DONE, later(days=4))


def test_three_tries_end_as_not_reached(cast: Cast, session: Session) -> None:
    tick(now=DAY_FOUR)
    # Three on one morning give nobody up.
    for hours, result in enumerate((AttemptResult.NO_ANSWER, AttemptResult.LEFT_MESSAGE, AttemptResult.NO_ANSWER)):
        tried(cast, check(session), result, hours=hours)
        assert check(session).state == FollowUpState.CALL
    page = sign_in(cast.clinician).get(reverse("followups")).content.decode()
    assert 'id="not_reached"' not in page
    tried(cast, check(session), AttemptResult.WRONG_NUMBER, hours=24)
    assert check(session).state == FollowUpState.NOT_REACHED
    with nothing_written(), pytest.raises(AlreadyClosed):
        tried(cast, check(session), AttemptResult.NO_ANSWER, hours=25)
    page = sign_in(cast.clinician).get(reverse("followups")).content.decode()
    assert reverse("case", args=[session.case_id]) in page.split('id="not_reached"')[1].split("</section>")[0]


@pytest.mark.parametrize("kind", [FollowUpKind.TWO_DAY, FollowUpKind.REVIEW])
def test_one_call_noted_twice_is_one_try(cast: Cast, session: Session, kind: FollowUpKind) -> None:
    tick(now=later(days=36))
    shown = afterwards.follow_up(session, kind)
    tried(cast, shown, AttemptResult.LEFT_MESSAGE)
    with nothing_written(), pytest.raises(CalledMeanwhile):
        tried(cast, shown, AttemptResult.LEFT_MESSAGE)
    tried(cast, afterwards.follow_up(session, kind), AttemptResult.LEFT_MESSAGE, hours=24)
    assert afterwards.follow_up(session, kind).state == FollowUpState.CALL
    session.case.refresh_from_db()
    assert session.case.closed_at is None


def called_in_vain_about_the_review(cast: Cast, session: Session) -> None:
    tick(now=later(days=36))
    for hours in (0, 1, 24):
        tried(cast, afterwards.follow_up(session, FollowUpKind.REVIEW), AttemptResult.NO_ANSWER, hours=hours)
    session.case.refresh_from_db()


def test_three_tries_about_the_review_end_the_case(cast: Cast, session: Session) -> None:
    called_in_vain_about_the_review(cast, session)
    assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == FollowUpState.NOT_REACHED
    assert session.case.close_reason == CloseReason.NOT_REACHED
    assert TrailEntry.objects.filter(verb="cases.closed").count() == 1


def test_a_visit_that_still_comes_keeps_the_case_open(cast: Cast, session: Session) -> None:
    course.visit_of(cast, session.case, starts_at=later(days=50))
    called_in_vain_about_the_review(cast, session)
    assert session.case.closed_at is None


def test_a_worrying_answer_keeps_the_case_open(cast: Cast, session: Session) -> None:
    afterwards.an_escalation(cast)
    called_in_vain_about_the_review(cast, session)
    assert session.case.closed_at is None


def test_the_case_of_somebody_not_reached_can_be_closed_as_such(cast: Cast, session: Session) -> None:
    for hours in (0, 1, 24):
        tried(cast, check(session), AttemptResult.NO_ANSWER, hours=hours)
    answer = sign_in(cast.desk).post(reverse("case_close", args=[session.case_id]), {"reason": "not_reached"})
    assert answer.status_code == 302
    session.case.refresh_from_db()
    assert session.case.close_reason == CloseReason.NOT_REACHED


def test_closing_needs_words(cast: Cast) -> None:
    escalation = afterwards.an_escalation(cast)
    for words in ("", "   ", "\n"):
        with nothing_written(), pytest.raises(NeedsWords):
            settled(cast, escalation, words)
    closed = settled(cast, escalation, " Called: it is easing off. ")
    assert (closed.closed_by, closed.closing_words) == ("Cleo Haddad", "Called: it is easing off.")
    assert closed.closed_at == later(hours=1)


def test_two_people_settle_it_and_one_is_told(cast: Cast) -> None:
    escalation = afterwards.an_escalation(cast)
    settled(cast, escalation, "Called.")
    with nothing_written(), pytest.raises(AlreadyClosed):
        settled(cast, escalation, "Called as well.")


class TestThePageOfAWorryingAnswer:
    def test_it_works(self, cast: Cast) -> None:
        escalation = afterwards.an_escalation(cast)
        client = sign_in(cast.clinician)
        where = reverse("escalation", args=[escalation.pk])
        words = client.get(where).content.decode()
        for shown in ("Sensitivity, 0 to 10", "The patient was told", "Cleo Haddad", "+44 20 7946 0101"):
            assert shown in words
        answer = client.post(where, {"words": "Called, eases off."}, follow=True)
        assert "Settled." in answer.content.decode()
        assert Escalation.objects.get().closing_words == "Called, eases off."
        assert "Called, eases off." in client.get(where).content.decode()

    def test_the_number_to_call_comes_before_all_else_there_is_to_press(self, cast: Cast) -> None:
        where = reverse("escalation", args=[afterwards.an_escalation(cast).pk])
        page = sign_in(cast.clinician).get(where).content.decode().partition("<main")[2]
        pressed = re.findall(r"<(?:a|button|input|textarea)\b[^>]*>", page)
        assert f'href="tel:{cast.patient.phone.as_e164}"' in pressed[0]
        assert page.count("tel:") == 1

    def test_without_a_number_it_says_so(self, cast: Cast) -> None:
        where = reverse("escalation", args=[afterwards.an_escalation(cast).pk])
        Patient.objects.filter(pk=cast.patient.pk).update(phone="")
        page = sign_in(cast.clinician).get(where).content.decode()
        assert "No telephone number is kept." in page
        assert "tel:" not in page

    def test_without_words_it_stays_open(self, cast: Cast) -> None:
        where = reverse("escalation", args=[afterwards.an_escalation(cast).pk])
        client = sign_in(cast.clinician)
        with nothing_written():
            answer = client.post(where, {"words": " "})
        assert answer.status_code == 422
        assert "Write in a word or two what came of it." in answer.content.decode()

    def test_what_was_typed_is_kept_when_a_colleague_was_quicker(self, cast: Cast) -> None:
        escalation = afterwards.an_escalation(cast)
        settled(cast, escalation, "Reached at noon.")
        client = sign_in(cast.clinician)
        with nothing_written():
            answer = client.post(reverse("escalation", args=[escalation.pk]), {"words": "I called too."})
        assert answer.status_code == 409
        words = answer.content.decode()
        assert "Somebody closed this already." in words
        assert "Reached at noon." in words
        assert "I called too." in words

    def test_too_many_words_are_refused_and_not_cut(self, cast: Cast) -> None:
        where = reverse("escalation", args=[afterwards.an_escalation(cast).pk])
        client = sign_in(cast.clinician)
        with nothing_written():
            assert client.post(where, {"words": "x" * 501}).status_code == 422


class TestTypedOnTheTelephone:
    def test_it_works(self, cast: Cast, session: Session, clock: object) -> None:
        tick(now=DAY_FOUR)
        client = sign_in(cast.assistant)
        where = reverse("type_reply", args=[session.pk])
        assert "Read each question aloud" in client.get(where).content.decode()
        answer = client.post(where, WELL_POSTED, follow=True)
        assert "The answers are kept." in answer.content.decode()
        reply = Reply.objects.get()
        assert (reply.typed_by_staff, reply.said_by) == (True, "Ari Zieliński")
        # The timeline names who typed; it must not read as if a colleague's teeth were meant.
        assert TrailEntry.objects.get(verb="recall.reply_typed").actor_name == "Ari Zieliński"

    def test_a_worry_leads_to_what_to_tell_the_patient(self, cast: Cast, session: Session, clock: object) -> None:
        client = sign_in(cast.clinician)
        where = reverse("type_reply", args=[session.pk])
        answer = client.post(where, WELL_POSTED | {"eye": "yes"}, follow=True)
        words = answer.content.decode()
        assert "tell the patient what stands here" in words
        assert "needs an eye doctor today" in words
        assert "typed in on the telephone by" in words

    def test_an_emergency_is_not_held_up_by_the_other_questions(
        self, cast: Cast, session: Session, clock: object
    ) -> None:
        where = reverse("type_reply", args=[session.pk])
        answer = sign_in(cast.assistant).post(where, {"swelling": "yes"}, follow=True)
        words = " ".join(answer.content.decode().split())
        assert "Tell the patient" in words
        assert "Call 999 now" in words
        assert Escalation.objects.get().urgency == Urgency.EMERGENCY

    def test_unfinished(self, cast: Cast, session: Session) -> None:
        client = sign_in(cast.assistant)
        with nothing_written():
            assert client.post(reverse("type_reply", args=[session.pk]), {"swelling": "no"}).status_code == 422
            answer = client.post(reverse("type_reply", args=[session.pk]), {})
        assert answer.status_code == 422
        assert "Please choose one answer." in answer.content.decode()

    def test_not_while_the_session_is_open(self, cast: Cast) -> None:
        running = chairs.a_session(cast)
        assert sign_in(cast.assistant).get(reverse("type_reply", args=[running.pk])).status_code == 404


class TestTheListOfFollowUps:
    def press(self, client: Client, follow_up: FollowUp, result: str) -> str:
        answer = client.post(
            reverse("followup_call", args=[follow_up.pk]), {"result": result, "seen_version": follow_up.version}
        )
        return str(answer.headers["Location"])

    def test_it_works(self, cast: Cast, session: Session, clock: time_machine.Traveller) -> None:
        afterwards.an_escalation(cast)
        tick(now=DAY_FOUR)
        clock.move_to(DAY_FOUR)
        words = sign_in(cast.assistant).get(reverse("followups")).content.decode()
        assert "1 worrying answer" in words
        assert "two-day check" in words
        assert "No answer" in words

    def test_the_desk_sees_who_but_no_answers(self, cast: Cast, session: Session) -> None:
        escalation = afterwards.an_escalation(cast)
        tick(now=DAY_FOUR)
        words = sign_in(cast.desk).get(reverse("followups")).content.decode()
        assert "Amara Nwosu" in words
        assert reverse("escalation", args=[escalation.pk]) not in words
        # Somebody who rings back about it is found in one press all the same.
        first = words.partition("Answer these first")[2].partition("</section>")[0]
        assert reverse("case", args=[session.case_id]) in first

    def test_each_result_leads_on(self, cast: Cast, session: Session) -> None:
        tick(now=DAY_FOUR)
        client = sign_in(cast.assistant)
        assert self.press(client, check(session), "no_answer") == reverse("followups")
        assert self.press(client, check(session), "reached") == reverse("type_reply", args=[session.pk])
        review = afterwards.follow_up(session, FollowUpKind.REVIEW)
        assert self.press(client, review, "wants_visit") == reverse("case_time", args=[session.case_id, "review"])

    @pytest.mark.parametrize("result", ["", "shouted"])
    def test_without_a_result_nothing_is_noted(self, cast: Cast, session: Session, result: str) -> None:
        client = sign_in(cast.assistant)
        with nothing_written():
            assert self.press(client, check(session), result) == reverse("followups")

    def test_pressed_twice_the_second_is_told(self, cast: Cast, session: Session) -> None:
        client = sign_in(cast.assistant)
        self.press(client, check(session), "reached")
        with nothing_written():
            self.press(client, check(session), "reached")
        assert "Somebody closed this already" in client.get(reverse("followups")).content.decode()

    def test_a_call_of_which_a_colleague_noted_something_is_not_noted(self, cast: Cast, session: Session) -> None:
        tick(now=DAY_FOUR)
        with time_machine.travel(DAY_FOUR, tick=False):
            client, shown = sign_in(cast.assistant), check(session)
            field = f'name="seen_version" value="{shown.version}"'
            assert field in client.get(reverse("followups")).content.decode()
            self.press(client, shown, "no_answer")
            typed = {"result": "no_answer", "seen_version": shown.version, "words": "Rings, nobody there"}
            with nothing_written():
                client.post(reverse("followup_call", args=[shown.pk]), typed)
            words = client.get(reverse("followups")).content.decode()
        assert "Nothing is noted: somebody noted something about this" in words
        assert "You had written: “Rings, nobody there”." in words

    def test_a_message_that_reached_nobody_is_called_and_settled(self, cast: Cast, session: Session) -> None:
        call = afterwards.a_message_call(cast, now=NOW)
        client = sign_in(cast.desk)
        words = client.get(reverse("followups")).content.decode()
        assert "How are you? · no e-mail or mobile number to write to" in words
        where = reverse("message_call", args=[call.pk])
        with nothing_written():
            client.post(where, {"outcome": "shouted"})
        assert "The call is noted." in client.post(where, {"outcome": "reached"}, follow=True).content.decode()
        assert Call.objects.get().settled_by == "Dana Popescu"
        with nothing_written():
            client.post(where, {"outcome": "reached"})

    def test_a_call_that_is_promised_for_tomorrow_is_not_due_today(self, cast: Cast, clock: object) -> None:
        afterwards.a_closed_session(cast, needs_call=True)
        words = sign_in(cast.assistant).get(reverse("followups")).content.decode()
        assert "0 calls to make" in words
        listed = words.split("data-rows")[1]
        assert "call on the next day" not in listed.split('id="coming"')[0]
        assert "call on the next day" in listed.split('id="coming"')[1]

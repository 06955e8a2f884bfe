"""A worrying answer that nobody takes by its time is raised again, shown as overdue, and left in peace once taken."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from clinic.accounts.models import Role, User
from clinic.diary.models import Closure
from clinic.messages import kinds
from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep_until_settled
from clinic.messages.words import clinical_words
from clinic.trail.models import TrailEntry
from tests.cast import Cast, actor_of, hire, sign_in
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from whitening.casebook.page import case_page
from whitening.recall import raising
from whitening.recall.actions import (
    AlreadyClosed,
    TakenAlready,
    close_escalation,
    hand_on_answer,
    record_reply,
    take_escalation,
    tick,
)
from whitening.recall.models import Escalation, Raising
from whitening.recall.triage import Answers, Urgency

pytestmark = pytest.mark.django_db
SAID = datetime(2026, 3, 5, 10, 30, tzinfo=UTC)
SWOLLEN = Answers(sensitivity=1, falling=True, swelling=True)


def after(**gap: float) -> datetime:
    return SAID + timedelta(**gap)


def escalated(cast: Cast, answers: Answers = SWOLLEN) -> Escalation:
    session = afterwards.a_closed_session(cast)
    reply, _graded = record_reply(session=session, answers=answers, actor=actor_of(cast.desk), now=SAID)
    return reply.escalation


def second_dentist(cast: Cast) -> User:
    return hire(cast.fernbrook, Role.CLINICIAN, name="Ivo Marsh", email="ivo@example.org", may_examine_and_decide=True)


def told() -> list[tuple[int, str]]:
    return list(Raising.objects.order_by("pk").values_list("step", "person__email"))


def taken(cast: Cast, escalation: Escalation, *, now: datetime) -> Escalation:
    return take_escalation(escalation=escalation, user=cast.clinician, actor=actor_of(cast.clinician), now=now)


@pytest.mark.parametrize(
    ("urgency", "minutes", "step"),
    [
        (Urgency.ROUTINE, 9999, 0),
        (Urgency.EMERGENCY, 9, 0),
        (Urgency.EMERGENCY, 10, 1),
        (Urgency.EMERGENCY, 19, 1),
        (Urgency.EMERGENCY, 20, 2),
        (Urgency.EMERGENCY, 60, 3),
        (Urgency.EMERGENCY, 120, 4),
        (Urgency.EMERGENCY, 99999, 4),
        (Urgency.URGENT, -1, 0),
        (Urgency.URGENT, 0, 1),
        (Urgency.URGENT, 30, 2),
        (Urgency.URGENT, 60, 3),
        (Urgency.URGENT, 120, 4),
        (Urgency.SAME_DAY, 0, 1),
        (Urgency.SAME_DAY, 60, 2),
        (Urgency.SAME_DAY, 3 * 60, 3),
        (Urgency.SAME_DAY, 15 * 60, 4),
        (Urgency.WITHIN_DAYS, 0, 1),
        (Urgency.WITHIN_DAYS, 4 * 60, 2),
        (Urgency.WITHIN_DAYS, 24 * 60, 3),
        (Urgency.WITHIN_DAYS, 48 * 60, 4),
    ],
)
def test_the_table_of_times(urgency: Urgency, minutes: int, step: int) -> None:
    assert raising.step_reached(urgency, due_at=SAID, now=after(minutes=minutes)) == step


@pytest.mark.parametrize(
    ("urgency", "minutes"),
    [(Urgency.EMERGENCY, 10), (Urgency.URGENT, 30), (Urgency.SAME_DAY, 60), (Urgency.WITHIN_DAYS, 240)],
)
def test_a_new_owner_is_left_a_gap_before_the_first_repeat(urgency: Urgency, minutes: int) -> None:
    begins_at = raising.begins_at(urgency, due_at=after(days=-1), handed_on_at=SAID)
    assert raising.step_reached(urgency, due_at=begins_at, now=after(minutes=minutes - 1)) == 0
    assert raising.step_reached(urgency, due_at=begins_at, now=after(minutes=minutes)) == 1
    # What is not due yet is not raised before its time.
    assert raising.begins_at(urgency, due_at=after(days=1), handed_on_at=SAID) == after(days=1)


def test_handed_on_it_is_raised_anew_and_the_new_owner_comes_first(cast: Cast) -> None:
    """Raised to its end, taken, handed on; the new owner never looks."""
    second_dentist(cast)
    escalation = escalated(cast)
    for minutes in (10, 20, 60, 120):
        tick(now=after(minutes=minutes))
    taken(cast, escalation, now=after(minutes=130))
    before = len(told())
    by: Any = {"user": cast.clinician, "actor": actor_of(cast.clinician)}
    hand_on_answer(escalation=escalation, to=cast.assistant, words="Treating.", now=after(minutes=140), **by)
    for minutes in (149, 150, 160, 200, 260, 999):
        tick(now=after(minutes=minutes))
    everybody = ["ari@example.org", "cleo@example.org", "ivo@example.org"]
    expected = [(1, "ari@example.org")] + [(step, email) for step in (2, 3, 4) for email in everybody]
    assert told()[before:] == expected
    assert Escalation.objects.get().times_raised == raising.MOST


def test_each_worrying_urgency_ends_after_the_same_number_of_steps() -> None:
    assert set(raising.AGAIN_AFTER) == set(Urgency) - {Urgency.ROUTINE}
    assert {len(gaps) for gaps in raising.AGAIN_AFTER.values()} == {raising.MOST}


@pytest.mark.parametrize(
    ("taken_after", "minutes", "overdue"),
    [(None, 0, False), (None, 1, True), (5, 119, False), (5, 125, False), (5, 126, True)],
)
def test_overdue(taken_after: int | None, minutes: int, overdue: bool) -> None:
    taken_at = None if taken_after is None else after(minutes=taken_after)
    assert raising.is_overdue(due_at=SAID, taken_at=taken_at, now=after(minutes=minutes)) is overdue


def test_first_the_person_on_call_then_everybody_who_may_decide(cast: Cast) -> None:
    escalation = escalated(cast)
    second_dentist(cast)
    for minutes in (9, 10, 11, 20, 60, 120, 600, 9000):
        tick(now=after(minutes=minutes))
    assert told() == [
        (1, "cleo@example.org"),
        *((step, email) for step in (2, 3, 4) for email in ("cleo@example.org", "ivo@example.org")),
    ]
    escalation.refresh_from_db()
    assert (escalation.times_raised, escalation.raised_again_at) == (4, after(minutes=10))
    entries = TrailEntry.objects.filter(verb="recall.raised_again", subject_id=str(escalation.pk))
    assert [entry.actor_kind for entry in entries] == ["system"] * 4


def test_a_tick_more_tells_nobody_twice(cast: Cast) -> None:
    escalated(cast)
    tick(now=after(minutes=10))
    sweep_until_settled(now=after(minutes=10))
    before = len(mail.outbox)
    with nothing_written():
        tick(now=after(minutes=10))
        tick(now=after(minutes=19))
    sweep_until_settled(now=after(minutes=19))
    assert len(mail.outbox) == before
    assert DueMessage.objects.filter(kind="raised_again").count() == 1


def test_after_a_standstill_only_the_last_step_is_said(cast: Cast) -> None:
    escalated(cast)
    tick(now=after(hours=5))
    assert told() == [(4, "cleo@example.org")]


def test_it_is_said_at_any_hour_without_a_clinical_word_or_a_name(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast)
    night = datetime(2026, 3, 5, 23, 30, tzinfo=UTC)
    record_reply(session=session, answers=SWOLLEN, actor=actor_of(cast.desk), now=night)
    tick(now=night + timedelta(minutes=10))
    sweep_until_settled(now=night + timedelta(minutes=10))
    sent = next(each for each in mail.outbox if each.subject == "Somebody at Fernbrook still waits")
    assert sent.to == ["cleo@example.org"]
    assert "has waited on Today since Thu 5 Mar 2026, 23:30" in sent.body
    assert clinical_words(f"{sent.subject} {sent.body}", "en", except_for=["Fernbrook Dental Rooms"]) == []
    assert "Amara" not in f"{sent.subject} {sent.body}"


def test_what_may_take_days_waits_for_the_morning(cast: Cast) -> None:
    afterwards.opening_hours(cast)
    escalation = escalated(cast, Answers(sensitivity=0, falling=True, satisfaction=1))
    # Due on Tuesday at half past ten; and then the practice is shut on that day.
    assert escalation.due_at == after(days=5)
    tuesday = datetime(2026, 3, 10, tzinfo=UTC)
    Closure.objects.create(site=cast.fernbrook, kind="closed", starts_at=tuesday, ends_at=tuesday + timedelta(days=1))
    tick(now=after(days=5, hours=2))
    assert told() == []
    tick(now=datetime(2026, 3, 11, 8, 30, tzinfo=UTC))
    assert told() == [(2, "cleo@example.org")]


def test_once_taken_nobody_is_told_again(cast: Cast) -> None:
    escalation = escalated(cast)
    tick(now=after(minutes=10))
    taken(cast, escalation, now=after(minutes=11))
    sweep_until_settled(now=after(minutes=11))
    assert DueMessage.objects.get(kind="raised_again").reason == "taken already"
    assert DueMessage.objects.get(kind="on_call_alert").reason == "taken already"
    with nothing_written():
        tick(now=after(hours=20))
    assert (escalation.owner, escalation.taken_at) == (cast.clinician, after(minutes=11))
    assert TrailEntry.objects.filter(verb="recall.taken", actor_kind="staff").count() == 1


def test_once_settled_nobody_is_told_again(cast: Cast) -> None:
    escalation = escalated(cast)
    tick(now=after(minutes=10))
    close_escalation(
        escalation=escalation, words="Called.", user=cast.clinician, actor=actor_of(cast.clinician), now=after(hours=1)
    )
    with nothing_written():
        tick(now=after(hours=20))
    sweep_until_settled(now=after(hours=20))
    assert DueMessage.objects.get(kind="raised_again").state == State.CANCELLED


def test_two_people_take_it_and_one_is_told(cast: Cast) -> None:
    escalation = escalated(cast)
    taken(cast, escalation, now=after(minutes=1))
    with nothing_written(), pytest.raises(TakenAlready, match="Cleo Haddad has taken this already"):
        take_escalation(
            escalation=escalation, user=cast.assistant, actor=actor_of(cast.assistant), now=after(minutes=2)
        )
    close_escalation(
        escalation=escalation, words="Called.", user=cast.clinician, actor=actor_of(cast.clinician), now=after(hours=1)
    )
    with nothing_written(), pytest.raises(AlreadyClosed):
        taken(cast, escalation, now=after(hours=2))


def test_with_nobody_on_call_everybody_who_may_decide_is_told_at_once(cast: Cast) -> None:
    escalation = escalated(cast)
    second_dentist(cast)
    Escalation.objects.update(owner=None)
    cast.fernbrook.on_call = None
    cast.fernbrook.save()
    tick(now=after(minutes=10))
    assert told() == [(1, "cleo@example.org"), (1, "ivo@example.org")]
    escalation.refresh_from_db()
    assert escalation.times_raised == 1


def test_who_left_meanwhile_is_not_written_to(cast: Cast) -> None:
    escalated(cast)
    second_dentist(cast)
    tick(now=after(minutes=10))
    User.objects.filter(pk=cast.clinician.pk).update(is_active=False)
    sweep_until_settled(now=after(minutes=10))
    assert DueMessage.objects.get(kind="raised_again").reason == "there is nobody to tell"
    tick(now=after(minutes=20))
    assert told()[1:] == [(2, "ivo@example.org")]


def test_after_a_death_nobody_is_told(cast: Cast) -> None:
    escalated(cast)
    cast.patient.died_on = SAID.date()
    cast.patient.save()
    tick(now=after(hours=1))
    assert told() == []


def test_no_clinical_word_and_short_enough(cast: Cast) -> None:
    escalated(cast)
    tick(now=after(minutes=10))
    message = DueMessage.objects.get(kind="raised_again")
    kind = kinds.get("raised_again")
    letter = kind.compose(kind.load(message.subject_id), message, "")
    assert clinical_words(letter.subject, "en") == clinical_words(letter.sms, "en") == []
    assert len(letter.sms) <= 160
    assert not kind.safety


class TestWhatStaffSee:
    @pytest.fixture
    def waited(self, cast: Cast, clock: time_machine.Traveller) -> Escalation:
        """For three hours and five minutes, raised again since ten minutes after it came."""
        escalation = escalated(cast)
        for minutes in (10, 20, 60):
            tick(now=after(minutes=minutes))
        clock.move_to(after(hours=3, minutes=5))
        return escalation

    @pytest.mark.parametrize("where", ["today", "followups"])
    def test_overdue_in_word_and_shape(self, cast: Cast, waited: Escalation, where: str) -> None:
        words = sign_in(cast.desk).get(reverse(where)).content.decode()
        assert 'class="mark mark-overdue"' in words
        assert ">Overdue<" in words
        assert "has waited 3 h 05 min" in words
        assert "raised again 3 times, since" in words
        assert "Thu 5 Mar 2026, 10:40" in words

    def test_the_heading_counts_them(self, cast: Cast, waited: Escalation) -> None:
        assert "1 worrying answer, 1 overdue" in sign_in(cast.desk).get(reverse("followups")).content.decode()

    def test_in_time_nothing_is_overdue(self, cast: Cast, clock: time_machine.Traveller) -> None:
        escalated(cast, Answers(sensitivity=8, falling=True))
        clock.move_to(after(hours=1))
        words = sign_in(cast.desk).get(reverse("followups")).content.decode()
        assert "answer by" in words
        assert "verdue" not in words

    def test_one_press_takes_it(self, cast: Cast, waited: Escalation) -> None:
        client = sign_in(cast.clinician)
        where = reverse("escalation", args=[waited.pk])
        assert "I take it" in client.get(where).content.decode()
        words = client.post(reverse("escalation_take", args=[waited.pk]), follow=True).content.decode()
        assert "It is yours now." in words
        assert "taken by Cleo Haddad" in words
        assert "I take it" not in words
        assert "verdue" not in words
        assert "taken by Cleo Haddad" in client.get(reverse("today")).content.decode()

    def test_pressed_by_a_colleague_too(self, cast: Cast, waited: Escalation) -> None:
        sign_in(cast.clinician).post(reverse("escalation_take", args=[waited.pk]))
        client = sign_in(cast.assistant)
        with nothing_written():
            client.post(reverse("escalation_take", args=[waited.pk]))
        assert "Cleo Haddad has taken this already" in client.get(reverse("today")).content.decode()

    def test_who_was_told_stands_on_its_page(self, cast: Cast, waited: Escalation) -> None:
        User.objects.filter(pk=cast.clinician.pk).update(name="Cleo Haddad-Marsh")
        for minutes in (0, 10, 20, 60):
            sweep_until_settled(now=after(minutes=minutes))
        told_here = page_of(cast, waited).partition("Who was told here")[2].partition("</section>")[0]
        # At once, and three times more.
        assert told_here.count("told Cleo Haddad-Marsh") == 4
        assert re.findall(r"Thu 5 Mar 2026, (\d\d:\d\d)", told_here) == ["10:30", "10:40", "10:50", "11:30"]

    def test_who_could_not_be_told_is_shown_with_the_reason(self, cast: Cast, waited: Escalation) -> None:
        taken(cast, waited, now=after(minutes=61))
        sweep_until_settled(now=after(minutes=61))
        words = page_of(cast, waited)
        assert "told Cleo Haddad" not in words
        assert words.count("cancelled · a colleague has taken it") == 4

    def test_the_case_lists_what_the_patient_is_told_and_nothing_else(self, cast: Cast, waited: Escalation) -> None:
        sweep_until_settled(now=after(minutes=61))
        assert DueMessage.objects.filter(kind__in=["raised_again", "on_call_alert"]).count() == 4
        found = case_page(waited.case, user=cast.clinician, now=after(minutes=61))
        assert {str(said.label) for said in found.messages} == {
            "aftercare sheet",
            "How are you?",
            "invitation to the review",
            "asked again about the review",
        }


def page_of(cast: Cast, escalation: Escalation) -> str:
    return sign_in(cast.clinician).get(reverse("escalation", args=[escalation.pk])).content.decode()

"""The patient's page "How are you?": good answers, worrying ones, and what each leads to."""

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core import mail
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.messages.models import DueMessage, PrivateLink
from clinic.messages.sweep import sweep
from clinic.messages.words import clinical_words
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.messages.entering import CLOSED, known
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import WELL_POSTED, later
from whitening.chairside.models import Session
from whitening.recall.actions import plan_after_session, record_reply
from whitening.recall.models import Escalation, FollowUp, FollowUpKind, FollowUpState, Reply, Urgency
from whitening.recall.triage import Answers

pytestmark = pytest.mark.django_db
DAY_TWO = datetime(2026, 3, 5, 10, 30, tzinfo=UTC)
HOW = "/p/how/"


def states(kind: FollowUpKind = FollowUpKind.TWO_DAY) -> list[str]:
    return list(FollowUp.objects.filter(kind=kind).values_list("state", flat=True))


def test_it_works(page: Client) -> None:
    """One press says that all is well; no code is asked for."""
    shown = page.get(HOW).content.decode()
    assert "Tell us something new: how are you?" in shown
    answer = page.post(HOW, {"all_well": "1"}, follow=True)
    assert answer.status_code == 200
    assert "Thank you for telling us" in answer.content.decode()
    reply = Reply.objects.get()
    assert (reply.urgency, reply.rules, reply.said_by, reply.typed_by_staff) == (0, ["F48-01"], "", False)
    assert reply.answers["satisfaction"] is None
    assert states() == [FollowUpState.ANSWERED]
    assert not Escalation.objects.exists()
    entry = TrailEntry.objects.get(verb="recall.replied")
    assert (entry.actor_kind, entry.subject_kind) == ("patient", "session")


def test_looking_writes_nothing(page: Client) -> None:
    with nothing_written():
        assert page.get(HOW).status_code == 200


def test_wrong_method(page: Client) -> None:
    with nothing_written():
        assert page.delete(HOW).status_code == 405


def test_staff_have_their_own_page(cast: Cast) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert client.get(HOW).status_code == CLOSED


def test_nothing_is_chosen_beforehand_and_nothing_is_guessed(page: Client) -> None:
    assert "checked" not in page.get(HOW).content.decode()
    with nothing_written():
        answer = page.post(HOW, {"sensitivity": "3"})
    assert answer.status_code == 422
    assert answer.content.decode().count("Please choose one answer.") >= 8
    # What was chosen stays chosen.
    assert re.search(r'name="sensitivity" value="3"[^>]*checked', answer.content.decode())


@pytest.mark.parametrize("wrong", [{"sensitivity": "11"}, {"sensitivity": "\0"}, {"gums": "blue"}, {"eye": "maybe"}])
def test_a_made_up_answer_is_refused(page: Client, wrong: dict[str, str]) -> None:
    with nothing_written():
        assert page.post(HOW, WELL_POSTED | wrong).status_code == 422


@pytest.mark.parametrize(
    ("posted", "urgency", "words"),
    [
        ({"swelling": "yes"}, Urgency.EMERGENCY, "Call 999 now"),
        ({"eye": "yes", "sensitivity": "99"}, Urgency.URGENT, "needs an eye doctor today"),
        ({"gums": "raw"}, Urgency.SAME_DAY, "should be looked at within a day"),
        ({"call_me": "on"}, Urgency.WITHIN_DAYS, "We call you by Sun 8 Mar 2026, 10:30"),
    ],
)
def test_what_cannot_wait_is_kept_without_the_rest(
    page: Client, posted: dict[str, str], urgency: Urgency, words: str
) -> None:
    answer = page.post(HOW, posted, follow=True)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    reply = Reply.objects.get()
    assert (reply.urgency, reply.escalation.urgency) == (urgency, urgency)
    # What was not answered, or not as it can be, is no answer.
    assert (reply.answers["sensitivity"], reply.answers["woke_at_night"]) == (None, None)


def test_any_number_of_answers_may_come(page: Client) -> None:
    for _time in range(3):
        page.post(HOW, {"all_well": "1"})
    assert Reply.objects.count() == 3
    assert states() == [FollowUpState.ANSWERED]


def test_a_worrying_answer_says_what_to_do_and_is_given_to_a_person(page: Client, cast: Cast) -> None:
    answer = page.post(HOW, WELL_POSTED | {"sensitivity": "8"}, follow=True)
    words = answer.content.decode()
    assert re.search(r"<h1>\s*Call us now\s*</h1>", words)
    assert words.count('href="tel:+442079460100"') == 1
    assert words.index('href="tel:+442079460100"') < words.index("Pain of seven or more should not wait.")
    assert "We are open now: somebody at the practice is told and reads this today." in words
    # Who is told to call is not told to wait for a call as well.
    assert "Do not wait for that." in words
    assert "12:30" not in words
    # Whom to call in opening hours and outside them: the page may be looked at again in the evening.
    for number in ("+44 20 7946 0100", "+442079460199", "999", "111"):
        assert number in words
    escalation = Escalation.objects.get()
    assert (escalation.urgency, escalation.owner) == (Urgency.URGENT, cast.clinician)
    assert (escalation.raised_at, escalation.due_at) == (DAY_TWO, DAY_TWO + timedelta(hours=2))
    assert Reply.objects.get().rules == ["F48-03"]


def test_days_count_from_the_newest_session_also_on_an_older_page(
    page: Client, cast: Cast, clock: time_machine.Traveller
) -> None:
    """The sheet of the first session still hangs on the fridge two days after the second."""
    first = afterwards.a_closed_session(cast)
    week_on = later(days=7)
    second = Session.objects.create(
        case=first.case,
        plan=first.plan,
        site=first.site,
        number=2,
        opened_at=week_on,
        opened_by=cast.clinician,
        closed_at=week_on,
        closed_by=cast.clinician,
    )
    with transaction.atomic():
        plan_after_session(session=second, needs_call=False, actor=actor_of(cast.clinician), now=week_on)
    two_days_on = DAY_TWO + timedelta(days=7)
    clock.move_to(two_days_on)
    known(page, afterwards.address(first, now=two_days_on))
    words = page.post(HOW, WELL_POSTED | {"sensitivity": "8"}, follow=True).content.decode()
    assert re.search(r"<h1>\s*Call us now\s*</h1>", words)
    assert "After a week" not in words
    reply = Reply.objects.get()
    assert (reply.session, reply.rules) == (second, ["F48-03"])
    # Nobody is called as silent who has just answered, and who was in pain on day two is asked once more.
    assert states() == [FollowUpState.ANSWERED] * 2
    assert FollowUp.objects.get(kind=FollowUpKind.RE_ASK).session == second


def test_an_emergency_names_the_number_first(page: Client) -> None:
    words = page.post(HOW, WELL_POSTED | {"swelling": "yes"}, follow=True).content.decode()
    assert re.search(r"<h1>\s*Call 999 now\s*</h1>", words)
    # The number to press stands above everything there is to read.
    assert words.count('href="tel:999"') == 1
    assert words.index('href="tel:999"') < words.index('class="notice')
    assert words.index('href="tel:999"') < words.index('href="tel:+44')
    assert Escalation.objects.get().due_at == DAY_TWO
    assert "We are open now: somebody at the practice is told and reads this today." in words
    assert "Do not wait for that. Once help is on its way, let us know as well:" in words
    assert "Outside opening hours" in words


@pytest.mark.parametrize("worry", [{"swelling": "yes"}, {"eye": "yes"}, {"sensitivity": "5"}, {"satisfaction": "1"}])
def test_every_worrying_answer_says_whom_to_call_and_when_it_is_read(
    page: Client, cast: Cast, clock: time_machine.Traveller, worry: dict[str, str]
) -> None:
    """On a Saturday, when nobody is there before Monday."""
    afterwards.opening_hours(cast)
    saturday = datetime(2026, 3, 7, 12, 0, tzinfo=UTC)
    clock.move_to(saturday)
    session = FollowUp.objects.first().session  # type: ignore[union-attr]  # the fixture made them
    known(page, afterwards.address(session, now=saturday))
    words = page.post(HOW, WELL_POSTED | worry, follow=True).content.decode()
    assert re.search(r"reads this on\s*<strong><time[^>]*>Mon 9 Mar 2026, 08:30", words)
    assert 'href="tel:+442079460199"' in words
    assert 'href="tel:999"' in words
    # Nobody is there today, so nobody is promised for today.
    assert "today" not in words.replace("eye doctor today", "")


def test_the_person_on_call_is_told_without_a_clinical_word(page: Client, cast: Cast) -> None:
    page.post(HOW, WELL_POSTED | {"gums": "raw"})
    sweep(now=DAY_TWO)
    alert = next(sent for sent in mail.outbox if sent.to == ["cleo@example.org"])
    said = f"{alert.subject} {alert.body}"
    assert clinical_words(said, "en", except_for=["Fernbrook Dental Rooms"]) == []
    assert "Amara" not in said
    assert "answer by Thu 5 Mar 2026, 18:00" in said


def test_the_person_on_call_is_told_at_night_too(page: Client, clock: time_machine.Traveller) -> None:
    night = datetime(2026, 3, 5, 23, 30, tzinfo=UTC)
    clock.move_to(night)
    page.cookies.clear()
    session = FollowUp.objects.first().session  # type: ignore[union-attr]  # the fixture made them
    known(page, afterwards.address(session, now=night)).post(HOW, WELL_POSTED | {"eye": "yes"})
    sweep(now=night)
    assert [sent.to for sent in mail.outbox if sent.to == ["cleo@example.org"]] == [["cleo@example.org"]]


def test_today_shows_the_card_and_the_desk_no_reason(page: Client, cast: Cast) -> None:
    page.post(HOW, WELL_POSTED | {"gums": "raw"})
    for who, may_open in ((cast.desk, False), (cast.clinician, True)):
        words = sign_in(who).get(reverse("today")).content.decode()
        assert "Answer these first" in words
        assert "clinician on the same day" in words
        assert "Cleo Haddad" in words
        assert (reverse("escalation", args=[Escalation.objects.get().pk]) in words) is may_open
        assert "raw" not in words


def test_outside_opening_hours_the_page_says_when_it_is_read(
    page: Client, cast: Cast, clock: time_machine.Traveller
) -> None:
    afterwards.opening_hours(cast)
    assert "We are closed now" not in page.get(HOW).content.decode()
    saturday = datetime(2026, 3, 7, 12, 0, tzinfo=UTC)
    clock.move_to(saturday)
    session = FollowUp.objects.first().session  # type: ignore[union-attr]  # the fixture made them
    known(page, afterwards.address(session, now=saturday))
    words = page.get(HOW).content.decode()
    assert "We are closed now" in words
    assert "Mon 9 Mar 2026, 08:30" in words
    assert "+442079460199" in words
    # What nobody is there to read is not promised for before Monday.
    page.post(HOW, WELL_POSTED | {"sensitivity": "8"})
    assert Escalation.objects.get().due_at == datetime(2026, 3, 9, 10, 30, tzinfo=UTC)


def test_by_then_the_patient_is_called(page: Client, cast: Cast) -> None:
    afterwards.opening_hours(cast)
    answer = page.post(HOW, {"call_me": "on"}, follow=True)
    assert "We call you by Tue 10 Mar 2026, 10:30" in answer.content.decode()
    assert Escalation.objects.get().due_at == datetime(2026, 3, 10, 10, 30, tzinfo=UTC)


def test_an_early_answer_is_kept_and_the_check_still_comes(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast)
    record_reply(
        session=session, answers=Answers(sensitivity=5, falling=True), actor=actor_of(cast.desk), now=later(hours=8)
    )
    assert states() == [FollowUpState.WAITING]
    # Nor is anything asked again yet: the check itself is still to come.
    assert states(FollowUpKind.RE_ASK) == []
    assert Escalation.objects.count() == 1


@pytest.mark.parametrize(
    ("answers", "asked"),
    [
        (Answers(sensitivity=4, falling=True), ["waiting"]),
        (Answers(sensitivity=9, falling=True), ["waiting"]),
        (Answers(sensitivity=0, gums="white_fading"), ["waiting"]),
        (Answers(sensitivity=3, falling=True), []),
    ],
)
def test_day_two_is_asked_again_on_day_four(cast: Cast, answers: Answers, asked: list[str]) -> None:
    session = afterwards.a_closed_session(cast)
    record_reply(session=session, answers=answers, actor=actor_of(cast.desk), now=DAY_TWO)
    assert states(FollowUpKind.RE_ASK) == asked
    if asked:
        again = afterwards.follow_up(session, FollowUpKind.RE_ASK)
        assert again.due_at == datetime(2026, 3, 7, 10, 0, tzinfo=UTC)
        assert DueMessage.objects.about(("follow_up", again.pk)).get().due_at == again.due_at


def test_once_asked_again_and_answered(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast)
    for days, sensitivity in ((2.1, 5), (4.1, 5)):
        record_reply(
            session=session,
            answers=Answers(sensitivity=sensitivity, falling=True),
            actor=actor_of(cast.desk),
            now=later(days=days),
        )
    assert states(FollowUpKind.RE_ASK) == [FollowUpState.ANSWERED]
    assert [reply.rules for reply in Reply.objects.all()] == [["F48-02"], ["F48-02", "F96-01"]]


def test_on_the_morning_of_day_four_it_is_day_four(cast: Cast) -> None:
    """Ninety hours after the session, but the fourth day for everybody."""
    session = afterwards.a_closed_session(cast)
    reply, _graded = record_reply(
        session=session,
        answers=Answers(sensitivity=4, falling=True),
        actor=actor_of(cast.desk),
        now=datetime(2026, 3, 7, 3, 0, tzinfo=UTC),
    )
    assert "F96-01" in reply.rules


def test_anything_left_after_a_week_is_looked_at(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast)
    _reply, graded = record_reply(
        session=session,
        answers=Answers(sensitivity=1, falling=True),
        actor=actor_of(cast.desk),
        now=later(days=7),
    )
    assert graded.codes == ["F48-01", "F7-01"]
    assert Escalation.objects.get().urgency == Urgency.WITHIN_DAYS
    assert states(FollowUpKind.RE_ASK) == []


def test_the_printed_code_writes_and_shows_no_record(cast: Cast, phone: Client, clock: time_machine.Traveller) -> None:
    session = afterwards.a_closed_session(cast)
    record_reply(session=session, answers=Answers(sensitivity=9, falling=True), actor=actor_of(cast.desk), now=NOW)
    clock.move_to(DAY_TWO)
    known(phone, afterwards.address(session, write_only=True, now=DAY_TWO))
    shown = phone.get(HOW).content.decode()
    for record in ("Amara", "9 of 10", reverse("aftercare"), "escalat"):
        assert record not in shown
    assert phone.get(reverse("aftercare")).status_code == CLOSED
    answer = phone.post(HOW, {"all_well": "1"}, follow=True)
    assert "Good to hear that all is well." in answer.content.decode()
    assert "usual in the first days" not in answer.content.decode()
    assert "should not wait" not in answer.content.decode()
    assert Reply.objects.count() == 2


def test_only_the_receipt_of_an_answer_opens_it(page: Client) -> None:
    page.post(HOW, {"all_well": "1"})
    assert page.get(reverse("how_are_you_said", args=["never-given"])).headers["Location"] == HOW


def test_a_receipt_runs_out(page: Client, clock: time_machine.Traveller) -> None:
    where = page.post(HOW, {"all_well": "1"}).headers["Location"]
    clock.shift(timedelta(hours=1))
    assert page.get(where).status_code == 200
    clock.shift(timedelta(hours=1, minutes=1))
    session = FollowUp.objects.first().session  # type: ignore[union-attr]  # the fixture made them
    known(page, afterwards.address(session, now=DAY_TWO + timedelta(hours=2, minutes=1)))
    assert page.get(where).headers["Location"] == HOW


def test_a_page_that_has_closed_says_whom_to_call(cast: Cast, phone: Client, clock: time_machine.Traveller) -> None:
    session = afterwards.a_closed_session(cast)
    where = afterwards.address(session)
    clock.move_to(later(days=62))
    answer = phone.get(where)
    assert answer.status_code == CLOSED
    assert "If something hurts, call now:" in answer.content.decode()
    assert "999" in answer.content.decode()


def test_a_new_link_ends_the_older_one(cast: Cast, phone: Client, clock: time_machine.Traveller) -> None:
    session = afterwards.a_closed_session(cast)
    first, printed = afterwards.address(session), afterwards.address(session, write_only=True)
    second = afterwards.address(session)
    assert [phone.get(each).status_code for each in (first, printed, second)] == [CLOSED, 200, 200]
    assert PrivateLink.objects.filter(ended_at=None).count() == 2

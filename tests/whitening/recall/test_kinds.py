"""What recall sends: its words, and that a message is still wanted at the moment it goes out."""

import pytest
from django.core import mail
from django.utils import translation

from clinic.messages import kinds
from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep
from clinic.messages.words import clinical_words
from tests.cast import NOW, Cast, actor_of
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import later
from whitening.chairside.models import Session
from whitening.recall.actions import close_escalation, log_attempt, record_reply
from whitening.recall.models import AttemptResult, FollowUpKind

pytestmark = pytest.mark.django_db
OURS = ("aftercare", "two_day_check", "review_invitation", "review_reminder", "on_call_alert")
LINK = "https://casebook.example.org/p/l/" + "x" * 43 + "/"


@pytest.fixture
def session(cast: Cast) -> Session:
    return afterwards.a_closed_session(cast)


@pytest.mark.parametrize("code", OURS)
def test_no_clinical_word_and_short_enough(code: str, cast: Cast, session: Session) -> None:
    escalation = afterwards.an_escalation(cast)
    kind = kinds.get(code)
    subject = kind.load(
        escalation.pk if code == "on_call_alert" else afterwards.follow_up(session, FollowUpKind.TWO_DAY).pk
    )
    message = DueMessage.objects.filter(kind=code).first()
    assert message is not None
    with translation.override("en"):
        letter = kind.compose(subject, message, LINK)
    for words in (letter.subject, letter.sms):
        assert clinical_words(words, "en") == []
    assert len(letter.sms) <= 160
    assert "Fernbrook" in letter.subject + letter.sms
    assert ("/p/l/" in letter.text) is (kind.link is not None)


@pytest.mark.parametrize("code", ["aftercare", "two_day_check"])
def test_who_worries_finds_the_number_that_answers_now(code: str, cast: Cast, session: Session) -> None:
    """These go out on closed days and are read at night, when the practice's own telephone rings for nobody."""
    message = DueMessage.objects.get(kind=code)
    kind = kinds.get(code)
    with translation.override("en"):
        letter = kind.compose(kind.load(int(message.subject_id)), message, LINK)
    assert "In opening hours: +44 20 7946 0100" in letter.text
    assert "Outside opening hours: +442079460199" in letter.text


@pytest.mark.parametrize("code", OURS)
def test_it_is_about_safety_or_an_appointment(code: str) -> None:
    kind = kinds.get(code)
    assert (str(kind.purpose), kind.safety) == {
        "review_invitation": ("appointment", False),
        "review_reminder": ("appointment", False),
        # When it fails nobody calls the patient for it: the card on Today stays.
        "on_call_alert": ("safety", False),
    }.get(code, ("safety", True))
    assert not kind.resend_uncertain


def test_what_is_gone_is_cancelled() -> None:
    assert all(kinds.get(code).load(0) is None for code in OURS)


def test_who_answered_already_is_not_asked(cast: Cast, session: Session) -> None:
    morning = later(days=1, hours=22)
    record_reply(session=session, answers=afterwards.WELL, actor=actor_of(cast.desk), now=morning)
    sweep(now=later(days=2, hours=1))
    check = DueMessage.objects.get(kind="two_day_check")
    assert (check.state, check.reason) == (State.CANCELLED, "answered already")


def test_who_was_reached_already_is_not_asked(cast: Cast, session: Session) -> None:
    check = afterwards.follow_up(session, FollowUpKind.TWO_DAY)
    log_attempt(
        follow_up=check,
        seen_version=check.version,
        result=AttemptResult.REACHED,
        words="",
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=later(days=1),
    )
    sweep(now=later(days=2, hours=1))
    assert DueMessage.objects.get(kind="two_day_check").state == State.CANCELLED


def test_what_is_settled_calls_nobody(cast: Cast) -> None:
    escalation = afterwards.an_escalation(cast)
    close_escalation(
        escalation=escalation, words="Called.", user=cast.clinician, actor=actor_of(cast.clinician), now=NOW
    )
    sweep(now=NOW)
    assert DueMessage.objects.get(kind="on_call_alert").reason == "settled already"


def test_with_nobody_on_call_whoever_closed_the_session_is_told(cast: Cast, session: Session) -> None:
    cast.fernbrook.on_call = None
    cast.fernbrook.save()
    session.case.site.refresh_from_db()
    escalation = afterwards.an_escalation(cast)
    assert escalation.owner == cast.clinician
    sweep(now=NOW)
    assert ["cleo@example.org"] in [sent.to for sent in mail.outbox]


def test_with_nobody_at_all_the_card_still_stands(cast: Cast) -> None:
    escalation = afterwards.an_escalation(cast)
    escalation.owner = None
    escalation.save()
    cast.fernbrook.on_call = None
    cast.fernbrook.save()
    sweep(now=NOW)
    alert = DueMessage.objects.get(kind="on_call_alert")
    assert (alert.state, alert.reason) == (State.CANCELLED, "there is nobody to tell")
    assert escalation.closed_at is None


def test_no_link_goes_out_before_the_numbers_stand(cast: Cast, session: Session) -> None:
    cast.fernbrook.emergency_number = ""
    cast.fernbrook.save()
    sweep(now=NOW)
    assert mail.outbox == []
    assert DueMessage.objects.get(kind="aftercare").state == State.DUE

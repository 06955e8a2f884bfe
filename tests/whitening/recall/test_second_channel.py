"""A silent two-day check is asked once more on the other channel, where there is one, before it becomes a call."""

from datetime import UTC, datetime

import pytest
from django.core import mail

from clinic.messages.models import Call, DueMessage, State
from clinic.messages.sweep import sweep_until_settled
from clinic.patients.actions import choose_contact
from clinic.patients.models import Channel, Patient, Purpose
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.texting import Texts
from whitening.chairside.models import Session
from whitening.recall.actions import record_reply, tick
from whitening.recall.models import FollowUpKind, FollowUpState

pytestmark = pytest.mark.django_db
DAY_TWO = datetime(2026, 3, 5, 10, 0, tzinfo=UTC)
DAY_THREE = datetime(2026, 3, 6, 10, 0, tzinfo=UTC)
DAY_FOUR = datetime(2026, 3, 7, 10, 0, tzinfo=UTC)


@pytest.fixture
def session(cast: Cast, texts: Texts) -> Session:
    """Somebody with an address and a number, who asked for e-mails; the check goes out on day two."""
    session = afterwards.a_closed_session(cast)
    Patient.objects.filter(pk=cast.patient.pk).update(phone="+447700900123")
    sweep_until_settled(now=NOW)
    mail.outbox.clear()
    return session


def lived(at: datetime) -> None:
    tick(now=at)
    sweep_until_settled(now=at)


def checks() -> list[tuple[int, str, str]]:
    rows = DueMessage.objects.filter(kind="two_day_check").order_by("step")
    return [(row.step, row.channel, row.state) for row in rows]


def state(session: Session) -> str:
    return afterwards.follow_up(session, FollowUpKind.TWO_DAY).state


def test_it_works(session: Session, texts: Texts) -> None:
    lived(DAY_TWO)
    assert (len(mail.outbox), texts) == (1, [])
    lived(datetime(2026, 3, 6, 9, 59, tzinfo=UTC))
    assert texts == []
    lived(DAY_THREE)
    assert checks() == [(0, "email", State.HANDED_OVER), (1, "text", State.HANDED_OVER)]
    assert len(mail.outbox) == len(texts) == 1
    assert texts[0].startswith("Fernbrook: how are you?")
    assert state(session) == FollowUpState.ASKED
    lived(DAY_FOUR)
    assert state(session) == FollowUpState.CALL
    assert len(checks()) == 2


def test_a_tick_more_asks_nothing_more(session: Session) -> None:
    lived(DAY_TWO)
    lived(DAY_THREE)
    with nothing_written():
        lived(DAY_THREE)


def test_who_wanted_texts_is_written_to_next(session: Session, cast: Cast, texts: Texts) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(channel=Channel.TEXT)
    lived(DAY_TWO)
    lived(DAY_THREE)
    assert checks() == [(0, "text", State.HANDED_OVER), (1, "email", State.HANDED_OVER)]
    assert len(mail.outbox) == len(texts) == 1


def test_who_has_answered_is_left_in_peace(session: Session, cast: Cast, texts: Texts) -> None:
    lived(DAY_TWO)
    record_reply(session=session, answers=afterwards.WELL, actor=actor_of(cast.desk), now=DAY_TWO)
    lived(DAY_THREE)
    assert [step for step, _channel, _state in checks()] == [0]
    assert texts == []


def test_an_answer_between_tick_and_hand_over_stops_it(session: Session, cast: Cast, texts: Texts) -> None:
    lived(DAY_TWO)
    tick(now=DAY_THREE)
    record_reply(session=session, answers=afterwards.WELL, actor=actor_of(cast.desk), now=DAY_THREE)
    sweep_until_settled(now=DAY_THREE)
    assert DueMessage.objects.get(kind="two_day_check", step=1).reason == "answered already"
    assert texts == []


@pytest.mark.parametrize(
    "given",
    [{"phone": ""}, {"phone": "+442079460101"}, {"email": "", "channel": Channel.TEXT}, {"channel": Channel.PHONE}],
)
def test_without_another_channel_nothing_is_planned(session: Session, cast: Cast, given: dict[str, str]) -> None:
    """No number, a landline, no address, or somebody who asked to be called."""
    Patient.objects.filter(pk=cast.patient.pk).update(**given)
    lived(DAY_TWO)
    calls = Call.objects.count()
    with nothing_written():
        lived(DAY_THREE)
    assert len(checks()) == 1
    lived(DAY_FOUR)
    assert state(session) == FollowUpState.CALL
    assert Call.objects.count() == calls


def test_not_against_the_patients_wish(session: Session, cast: Cast, texts: Texts) -> None:
    lived(DAY_TWO)
    choose_contact(
        patient=cast.patient,
        choices={Purpose.SAFETY: False},
        wordings={Purpose.SAFETY: "No"},
        actor=actor_of(cast.desk),
        now=DAY_TWO,
    )
    lived(DAY_THREE)
    assert texts == []
    assert not Call.objects.exists()


def test_a_second_try_that_fails_is_one_call_and_not_two(session: Session, texts: Texts) -> None:
    lived(DAY_TWO)
    texts.taken = False
    lived(DAY_THREE)
    assert checks() == [(0, "email", State.HANDED_OVER), (1, "text", State.FAILED)]
    assert not Call.objects.exists()
    lived(DAY_FOUR)
    assert state(session) == FollowUpState.CALL


def test_where_the_first_try_went_elsewhere_already_both_are_used(session: Session, cast: Cast, texts: Texts) -> None:
    """The text was refused and an e-mail went instead: these were the two channels."""
    Patient.objects.filter(pk=cast.patient.pk).update(channel=Channel.TEXT)
    texts.taken = False
    lived(DAY_TWO)
    assert checks() == [(0, "text", State.FAILED), (100, "email", State.HANDED_OVER)]
    with nothing_written():
        lived(DAY_THREE)

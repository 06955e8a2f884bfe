"""The tick goes on when one of its steps fails, and says that it failed; its loop shows on the page of health."""

from datetime import UTC, datetime

import pytest
import time_machine
from django.test import Client

from clinic.messages.models import Heartbeat
from clinic.messages.tasks import sweep_messages
from tests.cast import NOW, Cast
from tests.whitening.recall import afterwards
from whitening.recall.actions import ticking
from whitening.recall.models import FollowUpKind, FollowUpState
from whitening.recall.tasks import recall_tick

pytestmark = pytest.mark.django_db
DAY_FOUR = datetime(2026, 3, 7, 10, 0, tzinfo=UTC)


def broken(*, now: datetime) -> None:
    raise ValueError(f"a row that nobody expected at {now:%H:%M}")


@pytest.mark.parametrize("step", ["raise_again", "_end_what_is_not_needed", "_ask_elsewhere"])
def test_silence_becomes_a_call_whatever_else_fails(cast: Cast, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    session = afterwards.a_closed_session(cast)
    monkeypatch.setattr(ticking, step, broken)
    with pytest.raises(ExceptionGroup) as raised:
        ticking.tick(now=DAY_FOUR)
    assert [type(error) for error in raised.value.exceptions] == [ValueError]
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).state == FollowUpState.CALL


def test_a_tick_that_fails_does_not_beat(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    with time_machine.travel(NOW, tick=False) as clock:
        recall_tick()
        sweep_messages()
        assert client.get("/health/").status_code == 200
        clock.shift(121)
        sweep_messages()
        monkeypatch.setattr(ticking, "raise_again", broken)
        with pytest.raises(ExceptionGroup):
            recall_tick()
        answer = client.get("/health/")
        assert (answer.status_code, answer.json()["seconds_since"]["recall.tick"]) == (503, 121)
        monkeypatch.undo()
        recall_tick()
        assert client.get("/health/").status_code == 200
    assert Heartbeat.objects.count() == 2

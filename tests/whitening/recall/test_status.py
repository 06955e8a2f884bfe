"""The command for whoever keeps the installation running: counts and ages, nothing about anybody, red is an error."""

from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.core.management.base import CommandError

from clinic.messages.health import SWEEP, beat
from clinic.trail.clock import real_now
from tests.cast import NOW, Cast
from tests.support import nothing_written
from tests.whitening.recall import afterwards

pytestmark = pytest.mark.django_db


def run(*, red: bool = False) -> list[str]:
    said = StringIO()
    with nothing_written():
        if red:
            with pytest.raises(CommandError, match="Red"):
                call_command("followups_status", stdout=said)
        else:
            call_command("followups_status", stdout=said)
    return said.getvalue().splitlines()


def test_nothing_waits() -> None:
    beat(SWEEP, real_now=real_now())
    assert run() == ["messages.sweep: 0 s", "Messages: none waits", "Follow-ups: none waits",
                     "Worrying answers: none waits", "Green."]  # fmt: skip


def test_counts_and_ages_without_a_name(cast: Cast) -> None:
    with time_machine.travel(NOW + timedelta(minutes=4), tick=False):
        afterwards.an_escalation(cast)
        beat(SWEEP, real_now=real_now() - timedelta(seconds=50))
        said = run()
    assert said[0] == "messages.sweep: 50 s"
    assert "  waiting for its day: 2, the first one due in 2 d 0 h" in said
    assert any(line.startswith("  1, the first one due in ") for line in said)
    assert not any("Amara" in line or "Nwosu" in line for line in said)


def test_a_loop_that_is_silent_is_red(cast: Cast) -> None:
    assert run(red=True)[0] == "messages.sweep: never came round"


def test_a_message_that_should_have_gone_is_red(cast: Cast) -> None:
    with time_machine.travel(NOW + timedelta(hours=3), tick=False):
        afterwards.a_closed_session(cast)
        beat(SWEEP, real_now=real_now())
        said = run(red=True)
    assert any("the oldest due 3 h 0 min ago" in line for line in said)

"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
import time_machine

if TYPE_CHECKING:
    from django.test import Client
    from pytest_django import Settings

    from tests.cast import Cast
    from tests.whitening.recall.texting import Texts


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Both clocks stand at the cast's NOW until a test moves them."""
    from tests.cast import NOW

    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def phone() -> "Client":
    """The patient's browser."""
    from django.test import Client

    return Client()


@pytest.fixture
def page(cast: "Cast", phone: "Client", clock: time_machine.Traveller) -> "Client":
    """The patient's phone, with "How are you?" open in the middle of the second day after the session."""
    from tests.clinic.messages.entering import known
    from tests.whitening.recall import afterwards

    session, at = afterwards.a_closed_session(cast), afterwards.later(days=2, hours=1, minutes=30)
    clock.move_to(at)
    return known(phone, afterwards.address(session, now=at))


@pytest.fixture
def texts(settings: "Settings", monkeypatch: pytest.MonkeyPatch) -> "Texts":
    """A gateway for short texts."""
    from apprise import Apprise
    from apprise.result import AppriseResult, AppriseResultStatus

    from tests.whitening.recall.texting import Texts

    settings.SMS_URL = "json://localhost/{to}"
    sent = Texts()

    def notify(_self: Apprise, *, body: str) -> AppriseResult:
        sent.append(body)
        return AppriseResult(status=AppriseResultStatus.SUCCESS if sent.taken else AppriseResultStatus.FAILURE)

    monkeypatch.setattr(Apprise, "notify", notify)
    return sent

"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
import time_machine

if TYPE_CHECKING:
    from django.test import Client

    from tests.cast import Cast
    from tests.clinic.messages.writing import Planned, Wishes


@pytest.fixture
def wishes(monkeypatch: pytest.MonkeyPatch) -> "Wishes":
    """Two kinds of message and a purpose that exist only in this test."""
    from tests.clinic.messages import writing

    wishes = writing.Wishes()
    writing.register(wishes, monkeypatch)
    return wishes


@pytest.fixture
def planned(cast: "Cast", wishes: "Wishes") -> "Planned":
    from tests.clinic.messages import writing

    return writing.planner(cast)


@pytest.fixture
def at_now() -> "Iterator[time_machine.Traveller]":
    """Both clocks stand at the cast's NOW."""
    from tests.cast import NOW

    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def address(planned: "Planned", at_now: "time_machine.Traveller") -> str:
    """The path of a link as it stands in the mail that brought it."""
    from django.core import mail

    from clinic.messages.sweep import sweep
    from tests.cast import NOW
    from tests.clinic.messages.writing import CHECK

    planned(CHECK)
    sweep(now=NOW)
    found = re.search(r"https?://[^/]+(/p/l/\S+)", str(mail.outbox[0].body))
    assert found is not None
    return found[1]


@pytest.fixture
def phone() -> "Client":
    """The patient's browser."""
    from django.test import Client

    return Client()

"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
import time_machine

if TYPE_CHECKING:
    from django.test import Client


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

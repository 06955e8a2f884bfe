"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
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

"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
from collections.abc import Iterator

import pytest
import time_machine


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Both clocks stand at the cast's NOW until a test moves them."""
    from tests.cast import NOW

    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture(autouse=True)
def _papers_are_blank(monkeypatch: pytest.MonkeyPatch) -> None:
    """A signed consent is a paper; what it looks like is another room's matter, and drawing it takes seconds."""
    from clinic.documents.jobs import Drawing

    blank = Drawing(pdf=b"%PDF-1.7\n", pages=1, undrawn="")
    monkeypatch.setattr("clinic.documents.rendering.draw", lambda **_given: blank)

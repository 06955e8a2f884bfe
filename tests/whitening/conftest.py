"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
import hashlib
from collections.abc import Iterator

import pytest
import time_machine


@pytest.fixture
def at_now() -> "Iterator[time_machine.Traveller]":
    """Both clocks stand at NOW of the cast."""
    from tests.cast import NOW

    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def quick_paper(monkeypatch: pytest.MonkeyPatch) -> None:
    """No sheet is drawn: what is tested is everything around it. The real one has tests of its own."""
    from clinic.documents import rendering
    from clinic.documents.jobs import Drawing

    def draw(*, identifier: str, **_rest: object) -> Drawing:
        # Each is another file, as in life.
        return Drawing(pdf=b"%PDF " + hashlib.sha256(identifier.encode()).digest(), pages=1, undrawn="")

    monkeypatch.setattr(rendering, "draw", draw)

"""The practice's own words go out for every visit, however it was booked: they name no telephone call."""

import ast
from pathlib import Path

from django.conf import settings


def test_they_fit_whoever_stood_at_the_desk_too() -> None:
    """Read, not imported: the demo's modules load in the demo alone."""
    source = Path(settings.BASE_DIR, "whitening", "demo", "world", "own_words.py").read_text()
    words = [one.value for one in ast.walk(ast.parse(source)) if isinstance(one, ast.Constant)]
    told = [text for text in words if isinstance(text, str) and "{practice} on {date}" in text]
    assert len(told) == 1
    assert "calling" not in told[0]

"""Moving to a new key: afterwards the old one opens nothing that is still needed."""

from collections.abc import Iterator
from io import StringIO

import pytest
from django.core.management import call_command
from pytest_django.fixtures import Settings

from clinic.trail import erasure, rewrapping
from clinic.trail.fields import open_text, seal_text
from tests.clinic.trail.writing import note

pytestmark = pytest.mark.django_db
NEWER = "bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDE="
VALUES = {"phone": "+44 7700 900123"}


@pytest.fixture
def kept_elsewhere() -> Iterator[list[str]]:
    """An app that keeps one sealed text inside something of its own."""
    tokens, known = [seal_text("secret")], dict(rewrapping._others)

    def rewrap() -> int:
        tokens[:] = [seal_text(open_text(token)) for token in tokens]
        return len(tokens)

    rewrapping.register("tests", rewrap)
    yield tokens
    rewrapping._others.clear()
    rewrapping._others.update(known)


def test_it_works(settings: Settings, kept_elsewhere: list[str]) -> None:
    mine, practice = note(), note(patient_id=None)
    settings.FIELD_KEYS = [NEWER, *settings.FIELD_KEYS]
    said = StringIO()
    call_command("rewrap_keys", stdout=said)
    assert said.getvalue().startswith("Key files wrapped anew: 2. Encrypted texts: ")
    settings.FIELD_KEYS = [NEWER]
    assert (erasure.reveal(mine), erasure.reveal(practice)) == (VALUES, VALUES)
    assert [open_text(token) for token in kept_elsewhere] == ["secret"]
    assert erasure.reveal(note()) == VALUES

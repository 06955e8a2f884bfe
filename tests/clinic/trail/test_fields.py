"""A text that lies encrypted in its column."""

from collections.abc import Iterator

import pytest
from cryptography.fernet import InvalidToken
from django.core.exceptions import FieldError
from django.db import connection, models, transaction
from django.db.models import F
from django.test.utils import isolate_apps
from hypothesis import given
from hypothesis import strategies as st
from pytest_django.fixtures import Settings

from clinic.trail.fields import EncryptedTextField, open_text, seal_text

NEWER = "bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDE="


@pytest.fixture
def secrets(db: None) -> Iterator[type[models.Model]]:
    with isolate_apps("tests"):

        class Secret(models.Model):
            text = EncryptedTextField()

            class Meta:
                app_label = "tests"

        with connection.cursor() as cursor:
            cursor.execute("CREATE TABLE tests_secret (id integer PRIMARY KEY, text text)")
        yield Secret


def raw() -> list[str | None]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT text FROM tests_secret ORDER BY id")
        return [row[0] for row in cursor.fetchall()]


@pytest.mark.parametrize("text", ["JBSWY3DPEHPK3PXP", "", "ñ 漢 🦷", "x" * 10_000])
def test_it_works(secrets: type[models.Model], text: str) -> None:
    secrets._default_manager.create(pk=1, text=text)
    assert secrets._default_manager.values_list("text", flat=True).get() == text
    assert text == "" or text not in str(raw()[0])


def test_every_way_of_writing_encrypts(secrets: type[models.Model]) -> None:
    row = secrets._default_manager.create(pk=1, text="first")
    secrets._default_manager.update(text="second")
    row.refresh_from_db()
    assert vars(row)["text"] == "second"
    vars(row)["text"] = "third"
    secrets._default_manager.bulk_update([row], ["text"])
    secrets._default_manager.bulk_create([secrets(pk=2, text="fourth")])
    assert list(secrets._default_manager.order_by("pk").values_list("text", flat=True)) == ["third", "fourth"]
    assert all(str(token).startswith("gAAAA") for token in raw())


def test_a_missing_text_stays_missing(secrets: type[models.Model]) -> None:
    with connection.cursor() as cursor:
        cursor.execute("INSERT INTO tests_secret VALUES (1, NULL)")
    assert secrets._default_manager.filter(text__isnull=True).values_list("text", flat=True).get() is None
    assert EncryptedTextField().get_db_prep_save(None, connection) is None


def test_it_cannot_be_searched_or_copied_by_the_database(secrets: type[models.Model]) -> None:
    secrets._default_manager.create(pk=1, text="first")
    with pytest.raises(FieldError):
        secrets._default_manager.filter(text="first").exists()
    with pytest.raises(FieldError), transaction.atomic():
        secrets._default_manager.update(text=F("id"))
    assert secrets._default_manager.values_list("text", flat=True).get() == "first"


@given(st.text())
def test_any_text_comes_back(text: str) -> None:
    assert open_text(seal_text(text)) == text


def test_an_older_key_opens_and_a_removed_one_does_not(settings: Settings) -> None:
    older = list(settings.FIELD_KEYS)
    token = seal_text("secret")
    settings.FIELD_KEYS = [NEWER, *older]
    assert open_text(token) == "secret"
    settings.FIELD_KEYS = [NEWER]
    with pytest.raises(InvalidToken):
        open_text(token)

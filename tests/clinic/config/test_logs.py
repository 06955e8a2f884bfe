"""No secret of an address reaches the log."""

import json
import logging
from collections.abc import Iterator
from datetime import datetime
from io import StringIO

import pytest
from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.db import IntegrityError

from clinic.config.logs import HideSecrets, JsonFormatter, QuietFormatter
from tests.cast import Cast, sign_in
from tests.support import nothing_written

SECRET = "o9uQwDo2C7-3pma-Le4AUSiumTs0fWnoK9uFwRlVAVg"


@pytest.mark.parametrize(
    ("words", "args", "logged"),
    [
        ("%s: %s", ("Gone", f"/p/l/{SECRET}/"), "Gone: /p/l/…/"),
        (f"GET /p/l/{SECRET}/new/?a=1", (), "GET /p/l/…/new/?a=1"),
        (f"/invitation/{SECRET}", (), "/invitation/…"),
        ("%s: %s", ("Not Found", "/p/questions/day-of-the-visit/"), "Not Found: /p/questions/day-of-the-visit/"),
    ],
)
def test_it_works(words: str, args: tuple[object, ...], logged: str) -> None:
    record = logging.LogRecord("django.request", logging.WARNING, "", 0, words, args, None)
    assert HideSecrets().filter(record)
    assert record.getMessage() == logged


def test_every_handler_of_ours_hides_them() -> None:
    assert all("secrets" in handler["filters"] for handler in settings.LOGGING["handlers"].values())


def written(error: Exception, *, name: str = "django.request", words: str = "Failed: /patients/new/") -> str:
    record = logging.LogRecord(name, logging.ERROR, "", 0, words, (), (type(error), error, None))
    return QuietFormatter("{message}", style="{").format(record)


def test_a_traceback_keeps_the_refused_values_to_itself() -> None:
    refused = IntegrityError(
        'duplicate key value violates unique constraint "user_email_once"\n'
        "DETAIL:  Failing row contains (7, Ada Example,\nMill Lane, ada@example.org)."
    )
    outer = RuntimeError("while saving")
    outer.__cause__ = refused
    lines = written(outer).splitlines()
    assert lines == [
        "Failed: /patients/new/",
        'django.db.utils.IntegrityError: duplicate key value violates unique constraint "user_email_once"',
        "DETAIL: …",
        "",
        "The above exception was the direct cause of the following exception:",
        "",
        "RuntimeError: while saving",
    ]


def test_a_task_that_failed_keeps_them_too() -> None:
    words = "Task recall.tick raised: IntegrityError('no\\nDETAIL:  Key (email)=(ada@example.org) exists.\\n')"
    assert written(ValueError("x"), words=words).splitlines()[0] == (
        "Task recall.tick raised: IntegrityError('no\\nDETAIL: …"
    )


def test_a_value_of_the_wrong_kind_is_not_repeated() -> None:
    said = written(ValueError('invalid input syntax for type integer: "ada@example.org"'))
    assert said.splitlines()[-1] == "ValueError: invalid input syntax for type integer: …"


def test_a_refused_request_is_one_line() -> None:
    said = written(DisallowedHost("x"), name="django.security.DisallowedHost", words="Invalid HTTP_HOST header: 'x'.")
    assert said == "Invalid HTTP_HOST header: 'x'."


@pytest.fixture
def lines() -> Iterator[StringIO]:
    """What would stand in the log of an installation."""
    written, handler = StringIO(), logging.StreamHandler()
    handler.setStream(written)
    handler.setFormatter(QuietFormatter("{levelname} {name} {message}", style="{"))
    logger = logging.getLogger("django.request")
    logger.addHandler(handler)
    yield written
    logger.removeHandler(handler)


def test_a_wrong_role_is_one_line(cast: Cast, lines: StringIO) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        assert client.get("/patients/new/").status_code == 403
    assert lines.getvalue() == "WARNING django.request Forbidden (Permission denied): /patients/new/\n"


def test_a_row_of_another_site_is_one_line(cast: Cast, lines: StringIO) -> None:
    assert sign_in(cast.elsewhere).get(f"/patients/{cast.patient.pk}/").status_code == 404
    assert lines.getvalue() == f"WARNING django.request Not Found: /patients/{cast.patient.pk}/\n"


def test_a_fault_of_ours_keeps_its_traceback(cast: Cast, lines: StringIO, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(**_given: object) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr("clinic.patients.views.lists.find", broken)
    client = sign_in(cast.desk)
    client.raise_request_exception = False
    assert client.get("/patients/?q=bell").status_code == 500
    assert lines.getvalue().startswith("ERROR django.request Internal Server Error: /patients/\nTraceback")
    assert lines.getvalue().endswith("RuntimeError: a fault\n")


def test_every_handler_formats_so() -> None:
    named = {handler["formatter"] for handler in settings.LOGGING["handlers"].values()}
    assert {settings.LOGGING["formatters"][name]["()"] for name in named} == {"clinic.config.logs.QuietFormatter"}


def test_a_line_of_json_holds_ids_and_no_words() -> None:
    error = IntegrityError('duplicate key value violates "user_email_once"\nDETAIL:  Key (email)=(ada@example.org).')
    record = logging.LogRecord("clinic.messages", logging.ERROR, "", 0, "Message %s at /p/l/%s/.", (7, SECRET), None)
    record.exc_info = (type(error), error, None)
    record.message_pk, record.name_typed = 7, "Ada Example"
    HideSecrets().filter(record)
    (line,) = JsonFormatter().format(record).splitlines()
    said = json.loads(line)
    assert datetime.fromisoformat(said.pop("at")).tzinfo is not None
    assert "ada@example.org" not in said["traceback"]
    assert said.pop("traceback").startswith("django.db.utils.IntegrityError: duplicate key")
    assert said == {
        "level": "ERROR",
        "logger": "clinic.messages",
        "message": "Message 7 at /p/l/…/.",
        "message_pk": 7,
    }


def test_a_refused_request_is_one_short_line_of_json() -> None:
    record = logging.LogRecord("django.request", logging.WARNING, "", 0, "Not Found: /x/", (), None)
    record.status_code = 404
    said = json.loads(JsonFormatter().format(record))
    assert (said["status_code"], "traceback" in said) == (404, False)

"""No secret of an address reaches the log."""

import logging

import pytest
from django.conf import settings

from clinic.config.logs import HideSecrets

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

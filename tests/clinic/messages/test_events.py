"""What the mail provider reports: believed with the secret and the right signature only.

The form of the reports is the one that django-anymail's own reader of this provider takes; the signature is
HMAC-SHA-256 over timestamp and token, as that provider's public documentation has it.
"""

import hashlib
import hmac
import json
import re
import time
from base64 import b64encode
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import Settings

from clinic.messages.actions.reporting import arrived, came_back
from clinic.messages.models import Call, DueMessage, State, Why
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, Planned
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")
SECRET, KEY = "reports:" + "r" * 32, "signing-key"
ID = "<20260303.1@mail.example.org>"


@pytest.fixture(autouse=True)
def _provider(settings: Settings) -> None:
    settings.EMAIL_BACKEND = "anymail.backends.mailgun.EmailBackend"
    settings.ANYMAIL = {"WEBHOOK_SECRET": SECRET, "MAILGUN_WEBHOOK_SIGNING_KEY": KEY}


@pytest.fixture
def message(planned: Planned) -> DueMessage:
    """Handed over to the provider, which gave it a name."""
    row = planned(CHECK)
    row.state, row.channel, row.sent_to, row.provider_id = State.HANDED_OVER, "email", "amara@example.org", ID
    row.handed_over_at = row.settled_at = NOW
    row.save()
    return row


def report(event: str, *, key: str = KEY, secret: str = SECRET, about: str = ID, **more: object) -> int:
    stamp, token = str(int(time.time())), "t" * 50
    signature = hmac.new(key.encode(), (stamp + token).encode(), hashlib.sha256).hexdigest()
    said = {
        "signature": {"timestamp": stamp, "token": token, "signature": signature},
        "event-data": {
            "event": event,
            "timestamp": time.time(),
            "id": "e1",
            "recipient": "amara@example.org",
            "message": {"headers": {"message-id": about.strip("<>")}},
            **more,
        },
    }
    answer = Client().post(
        reverse("mail_events"),
        json.dumps(said),
        content_type="application/json",
        headers={"Authorization": "Basic " + b64encode(secret.encode()).decode()},
    )
    return answer.status_code


def test_it_works(message: DueMessage) -> None:
    for _twice in range(2):
        assert report("delivered") == 200
    message.refresh_from_db()
    assert message.state == State.DELIVERED
    assert TrailEntry.objects.filter(verb="messages.delivered").count() == 1


def test_what_comes_back_marks_the_address_and_becomes_a_call(message: DueMessage, cast: Cast) -> None:
    for _twice in range(2):
        assert report("failed", severity="permanent", reason="bounce") == 200
    message.refresh_from_db()
    cast.patient.refresh_from_db()
    assert (message.state, cast.patient.email_bounced_at) == (State.BOUNCED, NOW)
    assert [(call.message, call.why) for call in Call.objects.all()] == [(message, Why.BOUNCED)]


def test_one_that_arrived_may_still_come_back(message: DueMessage) -> None:
    report("delivered")
    report("failed", severity="permanent", reason="bounce")
    message.refresh_from_db()
    assert message.state == State.BOUNCED
    report("delivered")
    message.refresh_from_db()
    assert message.state == State.BOUNCED


def test_from_an_old_address_marks_not_the_new_one(message: DueMessage, cast: Cast) -> None:
    DueMessage.objects.update(sent_to="old@example.org")
    report("failed", severity="permanent", reason="bounce")
    message.refresh_from_db()
    cast.patient.refresh_from_db()
    assert (message.state, cast.patient.email_bounced_at) == (State.BOUNCED, None)


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason="SQLite has one writer at a time")
@pytest.mark.parametrize("tell", [came_back, arrived])
def test_the_patient_is_locked_before_the_message(message: DueMessage, tell: Callable[..., DueMessage | None]) -> None:
    """As at the desk; two mails that come back at once would otherwise wait for each other."""
    with CaptureQueriesContext(connection) as seen:
        assert tell(provider_id=ID, now=NOW) == message
    locks = [query["sql"] for query in seen if re.search("FOR (NO KEY )?UPDATE", query["sql"])]
    tables = [re.search(r' FROM "(\w+)"', sql) for sql in locks]
    assert [found and found[1] for found in tables][:2] == [Patient._meta.db_table, DueMessage._meta.db_table]


@pytest.mark.parametrize(
    ("event", "wrong"),
    [
        ("delivered", {"key": "another key"}),
        ("failed", {"key": "another key", "severity": "permanent"}),
        ("delivered", {"secret": "reports:" + "x" * 32}),
    ],
)
def test_a_wrong_secret_or_signature_changes_nothing(message: DueMessage, event: str, wrong: dict[str, str]) -> None:
    with nothing_written():
        assert report(event, **wrong) == 400


@pytest.mark.parametrize(("event", "more"), [("opened", {}), ("failed", {"severity": "temporary"})])
def test_what_decides_nothing_changes_nothing(message: DueMessage, event: str, more: dict[str, str]) -> None:
    with nothing_written():
        assert report(event, **more) == 200


@pytest.mark.parametrize("about", ["<another@mail.example.org>", "<a\x00b@mail.example.org>"])
@pytest.mark.parametrize(("event", "more"), [("delivered", {}), ("failed", {"severity": "permanent"})])
def test_a_mail_that_is_not_ours(message: DueMessage, event: str, more: dict[str, str], about: str) -> None:
    with nothing_written():
        assert report(event, about=about, **more) == 200


def test_without_a_secret_nobody_listens(message: DueMessage, settings: Settings) -> None:
    settings.ANYMAIL = {"WEBHOOK_SECRET": "", "MAILGUN_WEBHOOK_SIGNING_KEY": KEY}
    with nothing_written():
        assert report("delivered") == 404

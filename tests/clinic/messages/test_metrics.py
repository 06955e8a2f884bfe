"""Figures for a monitor: what they count, that they name nobody, and who may read them."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.test import Client

from clinic.messages.claims import claim
from clinic.messages.health import beat
from clinic.messages.models import DueMessage, State
from clinic.trail.clock import real_now
from tests.cast import NOW
from tests.clinic.messages.writing import CHECK, Planned
from tests.support import nothing_written

TOKEN = "t" * 40
pytestmark = pytest.mark.django_db


def look(client: Client, **from_where: str) -> tuple[int, str]:
    with nothing_written():
        response = client.get("/metrics", **from_where)  # type: ignore[arg-type]  # headers of the environment
    return response.status_code, response.content.decode()


def figures(page: str) -> dict[str, float]:
    lines = (line.rpartition(" ") for line in page.splitlines() if not line.startswith("#"))
    return {name: float(value) for name, _space, value in lines}


def test_it_works(client: Client, planned: Planned) -> None:
    for step in range(3):
        planned(CHECK, step=step)
    planned(due_at=NOW + timedelta(days=1))
    DueMessage.objects.filter(kind=CHECK, step=2).update(state=State.UNCERTAIN)
    with time_machine.travel(NOW + timedelta(seconds=90), tick=False):
        claim(now=NOW, real_now=real_now(), limit=1)
        beat("messages.sweep", real_now=NOW + timedelta(seconds=30))
        code, page = look(client)
    assert code == 200
    assert figures(page) == {
        'casebook_due_messages{kind="test_check",state="claimed"}': 1,
        'casebook_due_messages{kind="test_check",state="due"}': 1,
        "casebook_held_messages": 1,
        "casebook_uncertain_messages": 1,
        "casebook_oldest_due_late_seconds": 90,
        "casebook_unread_mails": 0,
        'casebook_heartbeat_age_seconds{loop="messages.sweep"}': 60,
    }


def test_it_names_nobody(client: Client, planned: Planned) -> None:
    message = planned()
    page = look(client)[1]
    patient = message.patient
    assert not re.search("|".join(map(re.escape, (*patient.name.split(), patient.email, str(patient.phone)))), page)


def test_a_loop_that_never_came_round_has_no_age(client: Client) -> None:
    assert "casebook_heartbeat_age_seconds{" not in look(client)[1]


def test_only_this_machine_without_a_token(client: Client) -> None:
    assert look(client, REMOTE_ADDR="::1")[0] == 200
    for elsewhere in (
        {"REMOTE_ADDR": "10.0.0.7"},
        {"REMOTE_ADDR": ""},
        # What a proxy on this machine passes on.
        {"HTTP_X_FORWARDED_FOR": "10.0.0.7"},
        {"HTTP_FORWARDED": "for=10.0.0.7"},
        # Nobody set one: an empty one is none.
        {"REMOTE_ADDR": "10.0.0.7", "HTTP_AUTHORIZATION": "Bearer "},
    ):
        code, page = look(client, **elsewhere)
        assert (code, "casebook_due" in page) == (403, False), elsewhere


def test_from_elsewhere_with_the_token(client: Client, settings: object) -> None:
    settings.METRICS_TOKEN = TOKEN  # type: ignore[attr-defined]
    said = {"REMOTE_ADDR": "10.0.0.7"}
    assert look(client, **said, HTTP_AUTHORIZATION=f"Bearer {TOKEN}")[0] == 200
    for wrong in (TOKEN, f"Bearer {TOKEN[:-1]}", f"Bearer {TOKEN}x", "Bearer ", ""):
        assert look(client, **said, HTTP_AUTHORIZATION=wrong)[0] == 403


def test_wrong_method(client: Client) -> None:
    with nothing_written():
        assert client.post("/metrics").status_code == 405

"""Two kinds of message that exist only here, and a page to land on."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import transaction

from clinic.messages import kinds, purposes
from clinic.messages.actions import plan
from clinic.messages.kinds import Kind, LinkSpec, Reading, Wanted
from clinic.messages.letters import Letter
from clinic.messages.models import DueMessage
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient, Purpose
from clinic.trail.clock import real_now
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of

REMINDER, CHECK = "test_reminder", "test_check"
PAGE = "test_page"


Planned = Callable[..., DueMessage]


@dataclass
class Wishes:
    """What the test wants the two kinds to say, and whether they are still wanted."""

    wanted: Wanted = True
    subject: str = "Fernbrook: Tuesday"
    sms: str = "Fernbrook: Tuesday 3 March."
    window: purposes.Window | None = field(
        default_factory=lambda: purposes.Window(opens_at=NOW, closes_at=NOW + timedelta(days=30))
    )


def register(wishes: Wishes, monkeypatch: pytest.MonkeyPatch) -> None:
    """For this test alone."""

    def compose(patient: Patient, message: DueMessage, link_url: str) -> Letter:
        return Letter(subject=wishes.subject, text=f"Hello {patient.called},\n\n{link_url}\n", sms=wishes.sms)

    reading = Reading[Patient](model=Patient, related=())
    reminder = Kind[Patient](
        code=REMINDER,
        label="reminder",
        purpose=Purpose.APPOINTMENT,
        subject_kind="patient",
        load=reading.one,
        reading=reading,
        still_wanted=lambda _patient, _message, _now: wishes.wanted,
        compose=compose,
        wording="messages/wordings/code",
        lasts=timedelta(days=3),
        resend_uncertain=True,
    )
    check = replace(
        reminder,
        code=CHECK,
        purpose=Purpose.SAFETY,
        safety=True,
        resend_uncertain=False,
        link=LinkSpec(purpose=PAGE, subject_id=lambda patient: patient.pk),
    )
    page = purposes.LinkPurpose(
        code=PAGE,
        title="Test page",
        subject_kind="patient",
        landing="preferences",
        window=lambda _pk, _now: wishes.window,
    )
    for kind in (reminder, check):
        monkeypatch.setitem(kinds._kinds, kind.code, kind)
    monkeypatch.setitem(purposes._purposes, page.code, page)


def planner(cast: Cast) -> Planned:
    """Plans one message to the cast's patient, due at NOW unless told otherwise."""

    def make(kind: str = REMINDER, **values: Any) -> DueMessage:
        given: dict[str, Any] = {"subject": ("patient", cast.patient.pk), "patient": cast.patient, "due_at": NOW}
        with transaction.atomic():
            return plan(kind=kind, site=cast.fernbrook, now=NOW, **given | values)

    return make


def later(**parts: float) -> datetime:
    """NOW and so much; the practice's clock."""
    return NOW + timedelta(**parts)


def a_moment_ago() -> datetime:
    """Real time: a lease that has just run out."""
    return real_now() - timedelta(seconds=1)


def states() -> list[str]:
    return list(DueMessage.objects.order_by("pk").values_list("state", flat=True))


def verbs() -> list[str]:
    return list(TrailEntry.objects.filter(verb__startswith="messages.").order_by("pk").values_list("verb", flat=True))


def another(cast: Cast, number: int) -> Patient:
    details = Details(name=f"Ines Costa {number}", birth_on=date(1980, 1, 1), email=f"ines{number}@example.org")
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=actor_of(cast.desk), now=NOW)

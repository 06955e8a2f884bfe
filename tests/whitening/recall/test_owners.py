"""Who answers for a worrying answer, and under whose name it is handed on."""

from datetime import timedelta

import pytest
import time_machine

from clinic.accounts.models import Role
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, hire
from tests.whitening.recall import afterwards
from whitening.chairside.models import Session
from whitening.recall.actions import record_reply
from whitening.recall.models import Escalation
from whitening.recall.triage import Answers

pytestmark = pytest.mark.django_db


@pytest.fixture
def session(cast: Cast, clock: time_machine.Traveller) -> Session:
    closed = afterwards.a_closed_session(cast)
    clock.move_to(NOW + timedelta(days=2))
    return closed


def worries(session: Session) -> Escalation:
    patient = Actor(kind="patient", id=str(session.case.patient_id), name=session.case.patient.name)
    fresh = Session.objects.select_related("case__site__on_call", "closed_by").get(pk=session.pk)
    record_reply(session=fresh, answers=Answers(sensitivity=8), actor=patient, now=NOW + timedelta(days=2))
    return Escalation.objects.get()


def test_what_follows_is_the_programs_doing(session: Session) -> None:
    worries(session)
    rows = TrailEntry.objects.filter(verb__in=["recall.replied", "recall.escalated"]).order_by("pk")
    said = [(row.verb, row.actor_kind) for row in rows]
    assert said == [("recall.replied", "patient"), ("recall.escalated", "system")]


def test_whoever_is_on_call_comes_first(cast: Cast, session: Session) -> None:
    colleague = hire(
        cast.fernbrook, Role.CLINICIAN, name="Bo Lindqvist", email="bo@example.org", may_examine_and_decide=True
    )
    cast.fernbrook.on_call = colleague
    cast.fernbrook.save()
    assert worries(session).owner == colleague


def test_nobody_who_has_left_is_given_an_answer(cast: Cast, session: Session) -> None:
    """On call and closer of the session are one person here; a colleague who may decide gets it."""
    colleague = hire(
        cast.fernbrook, Role.CLINICIAN, name="Bo Lindqvist", email="bo@example.org", may_examine_and_decide=True
    )
    cast.clinician.is_active = False
    cast.clinician.save()
    assert worries(session).owner == colleague

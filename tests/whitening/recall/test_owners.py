"""Who answers for a worrying answer, and under whose name it is handed on."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from clinic.accounts.models import OnCallTurn, Role, Site, User
from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep_until_settled
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from tests.whitening.recall.texting import Texts
from whitening.chairside.models import Session
from whitening.recall.actions import (
    CannotOwn,
    NeedsAReason,
    hand_on,
    hand_on_answer,
    record_reply,
    take_escalation,
    tick,
)
from whitening.recall.history import history
from whitening.recall.models import Escalation, FollowUpKind
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


def another_dentist(cast: Cast) -> User:
    return hire(
        cast.fernbrook, Role.CLINICIAN, name="Bo Lindqvist", email="bo@example.org", may_examine_and_decide=True
    )


def test_with_nobody_on_call_it_is_for_whoever_closed_the_session(cast: Cast, session: Session) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(on_call=None)
    another_dentist(cast)
    assert worries(session).owner == cast.clinician


@pytest.mark.parametrize("why", ["left", "works at the desk now"])
def test_nobody_who_left_or_may_not_read_is_given_an_answer(cast: Cast, session: Session, why: str) -> None:
    """Closer of the session, and the one who stands in: nobody owns it, Today asks for somebody, and all are told."""
    colleague = another_dentist(cast)
    if why == "left":
        User.objects.filter(pk=cast.clinician.pk).update(is_active=False)
    else:
        cast.clinician.memberships.update(role=Role.DESK)
    escalation = worries(session)
    assert escalation.owner is None
    assert not DueMessage.objects.filter(kind="on_call_alert").exists()
    page = sign_in(colleague).get(reverse("today")).content.decode()
    assert "nobody has it yet: name somebody" in page
    assert reverse("escalation_owner", args=[escalation.pk]) in page
    assert (
        "nobody has it yet: ask a clinician to name somebody"
        in sign_in(cast.desk).get(reverse("today")).content.decode()
    )
    tick(now=NOW + timedelta(days=2, minutes=1))
    assert [raised.person for raised in escalation.raisings.all()] == [colleague]
    tick(now=NOW + timedelta(days=2, minutes=2))
    assert escalation.raisings.count() == 1


def test_whoever_has_the_turn_comes_before_whoever_stands_in(cast: Cast, session: Session) -> None:
    at = NOW + timedelta(days=2)
    OnCallTurn.objects.create(site=cast.fernbrook, person=cast.hygienist, from_at=at, until_at=at + timedelta(hours=12))
    assert worries(session).owner == cast.hygienist


def test_a_call_is_owned_by_whoever_has_the_turn_when_it_falls_due(cast: Cast) -> None:
    tomorrow = NOW + timedelta(days=1)
    OnCallTurn.objects.create(
        site=cast.fernbrook, person=cast.hygienist, from_at=tomorrow, until_at=tomorrow + timedelta(hours=12)
    )
    session = afterwards.a_closed_session(cast, needs_call=True)
    kinds = (FollowUpKind.NEXT_DAY_CALL, FollowUpKind.TWO_DAY)
    assert [afterwards.follow_up(session, kind).owner for kind in kinds] == [cast.hygienist, cast.clinician]


def test_a_text_goes_out_beside_the_mail(cast: Cast, session: Session, texts: Texts) -> None:
    User.objects.filter(pk=cast.clinician.pk).update(phone="+447700900123")
    worries(session)
    sweep_until_settled(now=NOW + timedelta(days=2))
    told = DueMessage.objects.filter(kind="on_call_alert").order_by("step")
    assert [(one.state, one.channel, one.sent_to) for one in told] == [
        (State.HANDED_OVER, "email", "cleo@example.org"),
        (State.HANDED_OVER, "text", "+447700900123"),
    ]
    assert len(texts) == 1
    assert "Amara" not in texts[0]
    assert [(word.name, word.way) for word in history(Escalation.objects.get())] == [
        ("Cleo Haddad", "e-mail"),
        ("Cleo Haddad", "text message"),
    ]


def test_what_did_not_go_out_says_why_in_plain_words(cast: Cast, session: Session) -> None:
    escalation = worries(session)
    take_escalation(
        escalation=escalation, user=cast.clinician, actor=actor_of(cast.clinician), now=NOW + timedelta(days=2)
    )
    sweep_until_settled(now=NOW + timedelta(days=2))
    assert [word.reason for word in history(escalation)] == ["a colleague has taken it"]
    assert DueMessage.objects.get(kind="on_call_alert").reason == "taken already"
    page = sign_in(cast.clinician).get(reverse("escalation", args=[escalation.pk])).content.decode()
    assert "a colleague has taken it" in page
    assert "taken already" not in page


def test_without_a_number_there_is_one_mail_and_no_text(session: Session, texts: Texts) -> None:
    mail.outbox.clear()
    worries(session)
    sweep_until_settled(now=NOW + timedelta(days=2))
    assert DueMessage.objects.filter(kind="on_call_alert").count() == 1
    assert texts == []


def test_given_to_a_colleague_they_are_told_and_nobody_has_taken_it(cast: Cast, session: Session) -> None:
    at = NOW + timedelta(days=2)
    escalation = worries(session)
    take_escalation(escalation=escalation, user=cast.clinician, actor=actor_of(cast.clinician), now=at)
    client = sign_in(cast.clinician)
    where = reverse("escalation_owner", args=[escalation.pk])
    assert where in client.get(reverse("escalation", args=[escalation.pk])).content.decode()
    assert "Until now: Cleo Haddad" in client.get(where).content.decode()
    client.post(where, {"to": cast.assistant.pk, "words": "I am treating."})
    escalation.refresh_from_db()
    assert (escalation.owner, escalation.taken_at) == (cast.assistant, None)
    mail.outbox.clear()
    sweep_until_settled(now=at)
    assert [message.to for message in mail.outbox if "waits for you" in message.subject] == [["ari@example.org"]]
    assert TrailEntry.objects.filter(verb="recall.handed_on").count() == 1


def test_a_call_is_given_on_from_the_list(cast: Cast, session: Session) -> None:
    check = afterwards.follow_up(session, FollowUpKind.TWO_DAY)
    client, where = sign_in(cast.assistant), reverse("followup_owner", args=[check.pk])
    assert where in client.get(reverse("followups")).content.decode()
    with nothing_written():
        assert client.post(where, {"to": cast.assistant.pk, "words": " "}).status_code == 422
        # The desk asks nobody how they are.
        assert client.post(where, {"to": cast.desk.pk, "words": "Away."}).status_code == 422
    client.post(where, {"to": cast.assistant.pk, "words": "Away."})
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).owner == cast.assistant


def test_the_desk_hands_a_call_to_somebody_who_may_ask(cast: Cast, session: Session) -> None:
    where = reverse("followup_owner", args=[afterwards.follow_up(session, FollowUpKind.TWO_DAY).pk])
    desk = sign_in(cast.desk)
    with nothing_written():
        assert desk.post(where, {"to": cast.desk.pk, "words": "Mine."}).status_code == 422
    desk.post(where, {"to": cast.assistant.pk, "words": "Is on the line."})
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).owner == cast.assistant
    assert TrailEntry.objects.filter(verb="recall.handed_on").count() == 1


def test_the_actions_refuse_it_too(cast: Cast, session: Session) -> None:
    escalation, check = worries(session), afterwards.follow_up(session, FollowUpKind.REVIEW)
    by: Any = {"user": cast.clinician, "actor": actor_of(cast.clinician)}
    with nothing_written(), pytest.raises(CannotOwn):
        hand_on_answer(escalation=escalation, to=cast.desk, words="Away.", now=NOW, **by)
    with nothing_written(), pytest.raises(NeedsAReason):
        hand_on(follow_up=check, to=cast.desk, words=" ", **by)
    assert hand_on(follow_up=check, to=cast.desk, words="Away.", **by).owner == cast.desk

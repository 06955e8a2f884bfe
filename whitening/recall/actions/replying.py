"""An answer to "How are you?": kept, graded, and where it worries, given to a person with a due time."""

from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from clinic.messages import actions as messages
from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.actions.planning import plan_re_ask
from whitening.recall.models import Escalation, FollowUp, FollowUpKind, FollowUpState, Reply, Urgency
from whitening.recall.questions import VERSION
from whitening.recall.triage import RULES_VERSION, Answers, Triage, triage

ON_CALL_ALERT = "on_call_alert"


def record_reply(
    *, session: Session, answers: Answers, actor: Actor, now: datetime, typed_by_staff: bool = False
) -> tuple[Reply, Triage]:
    """Any number of replies may come. Each worrying one is its own escalation; the check counts as answered."""
    graded = triage(answers, age=now - (session.closed_at or now))
    with transaction.atomic():
        reply = Reply.objects.create(
            case=session.case,
            session=session,
            questions=VERSION,
            answers=asdict(answers),
            urgency=int(graded.urgency),
            rules=graded.codes,
            rules_version=RULES_VERSION,
            said_at=now,
            said_by=actor.name,
            typed_by_staff=typed_by_staff,
        )
        record(
            verb="recall.replied",
            actor=actor,
            subject=("session", session.pk),
            patient_id=session.case.patient_id,
            site_id=session.case.site_id,
            values={"answers": reply.answers, "rules": graded.codes, "urgency": graded.urgency.name},
        )
        _answered(session, now)
        if graded.worries:
            _escalate(reply, graded, actor, now)
        if (answers.sensitivity or 0) >= 4:
            plan_re_ask(session=session, actor=actor, now=now)
    return reply, graded


def _answered(session: Session, now: datetime) -> None:
    """Checks that were waiting for this are answered; a call that is owed stays owed."""
    waiting = FollowUp.objects.filter(
        session=session,
        kind__in=[FollowUpKind.TWO_DAY, FollowUpKind.RE_ASK],
        state__in=[FollowUpState.WAITING, FollowUpState.ASKED, FollowUpState.CALL],
        due_at__lte=now + timing.CHECK_FIRST,
    )
    waiting.update(state=FollowUpState.ANSWERED, closed_at=now)


def _escalate(reply: Reply, graded: Triage, actor: Actor, now: datetime) -> Escalation:
    site = reply.case.site
    escalation = Escalation.objects.create(
        case=reply.case,
        reply=reply,
        urgency=Urgency(int(graded.urgency)),
        owner=site.on_call or reply.session.closed_by,
        due_at=timing.escalation_due(graded.urgency.name, said_at=now, zone=site.zone),
        raised_at=now,
    )
    record(
        verb="recall.escalated",
        actor=actor,
        subject=("escalation", escalation.pk),
        patient_id=reply.case.patient_id,
        site_id=reply.case.site_id,
        values={"urgency": graded.urgency.name, "due_at": escalation.due_at.isoformat()},
    )
    messages.plan(
        kind=ON_CALL_ALERT,
        subject=("escalation", escalation.pk),
        patient=reply.case.patient,
        site=site,
        due_at=now,
        not_after=now + timing.DAY,
        actor=actor,
        now=now,
    )
    return escalation

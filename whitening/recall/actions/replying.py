"""An answer to "How are you?": kept, graded, and where it worries, given to a person with a due time."""

from dataclasses import asdict
from datetime import datetime

from django.db import transaction
from django.db.models import F

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.accounts.rota import may_answer, on_call_at
from clinic.messages import actions as messages
from clinic.messages.channels import text
from clinic.messages.conditions import takes_texts
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.actions.planning import plan_re_ask
from whitening.recall.models import Escalation, FollowUp, FollowUpKind, FollowUpState, Reply, Urgency
from whitening.recall.questions import VERSION
from whitening.recall.reading_hours import reads_at, working_day_after
from whitening.recall.triage import RULES_VERSION, Answers, Triage, triage

ON_CALL_ALERT = "on_call_alert"
# Steps of what a colleague is told: the second goes out as a text only.
BY_MAIL, BY_TEXT = 0, 1


def record_reply(
    *, session: Session, answers: Answers, actor: Actor, now: datetime, typed_by_staff: bool = False
) -> tuple[Reply, Triage]:
    """Any number of replies may come. Each worrying one is its own escalation; the check counts as answered.

    It is about the teeth as they are now, so days count from the newest session, whichever session's page was used.
    """
    session = _newest_closed(session)
    day = _day(session, now)
    graded = triage(answers, day=day)
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
            # Who the patient is stands in the case; the name is not copied.
            said_by=actor.name if actor.kind == "staff" else "",
            typed_by_staff=typed_by_staff,
        )
        record(
            verb="recall.reply_typed" if typed_by_staff else "recall.replied",
            actor=actor,
            subject=("session", session.pk),
            patient_id=session.case.patient_id,
            site_id=session.case.site_id,
            values={"answers": reply.answers, "rules": graded.codes, "urgency": graded.urgency.name},
        )
        _answered(session, now)
        if graded.worries:
            _escalate(reply, graded, now)
        if graded.asks_again and timing.CHECK_AFTER_DAYS <= day < timing.RE_ASK_UNTIL_DAY:
            plan_re_ask(session=session, actor=SYSTEM, now=now)
    return reply, graded


def grade(*, session: Session, answers: Answers, now: datetime) -> Triage:
    """Without writing anything."""
    return triage(answers, day=_day(_newest_closed(session), now))


def cannot_wait(*, session: Session, answers: Answers, now: datetime) -> bool:
    """So much has been answered that somebody is needed today, or asked for: the rest must not hold it up."""
    return answers.call_me or grade(session=session, answers=answers, now=now).urgency >= int(Urgency.SAME_DAY)


def type_reply(*, session: Session, answers: Answers, user: User, actor: Actor, now: datetime) -> tuple[Reply, Triage]:
    """Staff write down what the patient says on the telephone."""
    require(user, Capability.FOLLOWUPS_WORK, session.case.site)
    return record_reply(session=session, answers=answers, actor=actor, now=now, typed_by_staff=True)


def _newest_closed(session: Session) -> Session:
    rows = Session.objects.select_related("case__site", "case__patient", "closed_by")
    return rows.filter(case=session.case_id).exclude(closed_at=None).order_by("-closed_at").first() or session


def _day(session: Session, now: datetime) -> int:
    return timing.day_number(closed_at=session.closed_at or now, at=now, zone=session.case.site.zone)


def _answered(session: Session, now: datetime) -> None:
    """Checks of the case whose day has come are answered by this; a call that was promised stays owed."""
    zone = session.case.site.zone
    kinds = [FollowUpKind.TWO_DAY, FollowUpKind.RE_ASK]
    checks = FollowUp.objects.filter(case=session.case_id, kind__in=kinds).open()
    done = [check.pk for check in checks if timing.counts_as_check(due_at=check.due_at, said_at=now, zone=zone)]
    # Open is asked once more in the statement itself: a call that ended meanwhile is not opened again.
    FollowUp.objects.filter(pk__in=done).open().update(
        state=FollowUpState.ANSWERED, closed_at=now, version=F("version") + 1
    )


def _owner(reply: Reply, site: Site, now: datetime) -> User | None:
    """Whoever is on call, else whoever closed the session and may still read it.

    None where neither is there: Today asks for somebody, and everybody who may decide is told (see raising).
    """
    closer = reply.session.closed_by
    return on_call_at(site, now) or (closer if closer is not None and may_answer(closer, site) else None)


def _escalate(reply: Reply, graded: Triage, now: datetime) -> Escalation:
    """What follows from an answer is the program's doing, not the patient's."""
    site = reply.case.site
    read_at = reads_at(site, now=now)
    due_at = timing.escalation_due(
        graded.urgency,
        said_at=now,
        reads_at=read_at,
        last_day=working_day_after(read_at, site, number=timing.WITHIN_WORKING_DAYS),
        zone=site.zone,
    )
    escalation = Escalation.objects.create(
        case=reply.case,
        reply=reply,
        urgency=Urgency(int(graded.urgency)),
        owner=_owner(reply, site, now),
        due_at=due_at,
        raised_at=now,
    )
    record(
        verb="recall.escalated",
        actor=SYSTEM,
        subject=("escalation", escalation.pk),
        patient_id=reply.case.patient_id,
        site_id=reply.case.site_id,
        values={"urgency": graded.urgency.name, "due_at": escalation.due_at.isoformat()},
    )
    if escalation.owner is not None:
        alert(escalation, person=escalation.owner, now=now)
    return escalation


def alert(escalation: Escalation, *, person: User, now: datetime, version: int = 1) -> None:
    """By e-mail, and as a text as well where that can reach them: mail is not read at night."""
    steps = [BY_MAIL, BY_TEXT] if gets_texts(person) else [BY_MAIL]
    for step in steps:
        messages.plan(
            kind=ON_CALL_ALERT,
            subject=("escalation", escalation.pk),
            version=version,
            step=step,
            patient=escalation.case.patient,
            site=escalation.case.site,
            due_at=now,
            not_after=now + timing.DAY,
            actor=SYSTEM,
            now=now,
        )


def gets_texts(person: User) -> bool:
    return text.is_on() and bool(person.phone) and takes_texts(person.phone.as_e164)

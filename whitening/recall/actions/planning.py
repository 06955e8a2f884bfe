"""Closing a session plans what follows, in the same transaction: nothing depends on somebody remembering."""

from datetime import datetime

from clinic.accounts.rota import on_call_at
from clinic.messages import actions as messages
from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState
from whitening.recall.timing import Window

AFTERCARE, TWO_DAY_CHECK = "aftercare", "two_day_check"
REVIEW_INVITATION, REVIEW_REMINDER = "review_invitation", "review_reminder"


def plan_after_session(*, session: Session, needs_call: bool, actor: Actor, now: datetime) -> list[FollowUp]:
    """The two-day check always, the review after the last session, a call after a contact or an early end.

    Must run inside the transaction that closes the session.
    """
    zone = session.case.site.zone
    check = _follow_up(session, FollowUpKind.TWO_DAY, timing.two_day_check(now, zone), now)
    planned = [check]
    _say(AFTERCARE, check, due_at=now, not_after=check.call_by, actor=actor, now=now)
    _say(TWO_DAY_CHECK, check, due_at=check.due_at, not_after=check.call_by, actor=actor, now=now)
    if needs_call:
        planned.append(_follow_up(session, FollowUpKind.NEXT_DAY_CALL, timing.next_day_call(now, zone), now, call=True))
    if session.number >= session.plan.sessions:
        review = _follow_up(session, FollowUpKind.REVIEW, timing.review(now, zone), now)
        _invite(review, closed_at=now, actor=actor, now=now)
        planned.append(review)
    for follow_up in planned:
        _record(follow_up, actor)
    return planned


def plan_late_review(*, session: Session, actor: Actor, now: datetime) -> FollowUp:
    """Of a course that turned out to be over after its last session was closed: the plan was shortened since."""
    closed_at = _closed_at(session)
    window = timing.review(closed_at, session.case.site.zone)
    is_late = window.until_at <= now
    review = _follow_up(session, FollowUpKind.REVIEW, window, now, call=is_late)
    if not is_late:
        _invite(review, closed_at=closed_at, actor=actor, now=now)
    _record(review, actor)
    return review


def follow_late(*, session: Session, needs_call: bool, actor: Actor, now: datetime) -> FollowUp | None:
    """What was written down once the session was closed: a contact or an early end asks for a call, once per session;
    one that was entered by mistake asks for none any more.

    Must run inside the transaction that writes it down, which holds the session's row.
    """
    held = session.followups.select_for_update().filter(kind=FollowUpKind.NEXT_DAY_CALL).first()
    if not needs_call:
        return _end(held, actor=actor, now=now) if held is not None and held.closed_at is None else None
    if calls_no_more(session, now) or (held is not None and held.state != FollowUpState.CANCELLED):
        return None
    window = timing.late_call(_closed_at(session), session.case.site.zone, now=now)
    if held is not None:
        call = _again(held, window)
    else:
        call = _follow_up(session, FollowUpKind.NEXT_DAY_CALL, window, now, call=True)
    _record(call, actor)
    return call


def _end(call: FollowUp, *, actor: Actor, now: datetime) -> FollowUp:
    _move(call, FollowUpState.CANCELLED, closed_at=now)
    record(
        verb="recall.not_needed",
        actor=actor,
        subject=("follow_up", call.pk),
        patient_id=call.case.patient_id,
        site_id=call.case.site_id,
        values={"kind": str(call.kind)},
    )
    return call


def _again(call: FollowUp, window: Window) -> FollowUp:
    """Ended as not needed, and needed after all."""
    call.due_at, call.call_by, call.next_at = window.due_at, window.until_at, window.due_at
    _move(call, FollowUpState.CALL, closed_at=None)
    return call


def _move(call: FollowUp, state: FollowUpState, *, closed_at: datetime | None) -> None:
    call.state, call.closed_at, call.version = state, closed_at, call.version + 1
    call.save(update_fields=["state", "closed_at", "version", "due_at", "call_by", "next_at"])


def calls_no_more(session: Session, now: datetime) -> bool:
    """After a death nobody calls; nor once the case is closed and its two-day check is over."""
    case = session.case
    if case.patient.died_on is not None:
        return True
    return case.closed_at is not None and timing.two_day_check(_closed_at(session), case.site.zone).until_at <= now


def _closed_at(session: Session) -> datetime:
    if session.closed_at is None:
        raise ValueError("nothing follows a session that is not closed")
    return session.closed_at


def _invite(review: FollowUp, *, closed_at: datetime, actor: Actor, now: datetime) -> None:
    """Once, and once more while no time is picked; only an invitation that is a week old is reminded of."""
    again = timing.review_reminder(closed_at, review.case.site.zone)
    due_at = max(review.due_at, now)
    _say(REVIEW_INVITATION, review, due_at=due_at, not_after=review.call_by, actor=actor, now=now)
    if due_at <= review.due_at:
        _say(REVIEW_REMINDER, review, due_at=again.due_at, not_after=again.until_at, actor=actor, now=now)


def plan_re_ask(*, session: Session, actor: Actor, now: datetime) -> FollowUp | None:
    """What was not well on day two is asked again two days later; once per session."""
    if session.followups.filter(kind=FollowUpKind.RE_ASK).exists():
        return None
    window = timing.re_ask(now, session.case.site.zone)
    follow_up = _follow_up(session, FollowUpKind.RE_ASK, window, now)
    _say(TWO_DAY_CHECK, follow_up, due_at=window.due_at, not_after=window.until_at, actor=actor, now=now)
    _record(follow_up, actor)
    return follow_up


def _follow_up(session: Session, kind: FollowUpKind, window: Window, now: datetime, *, call: bool = False) -> FollowUp:
    follow_up, _made = FollowUp.objects.get_or_create(
        session=session,
        kind=kind,
        defaults={
            "case": session.case,
            "site": session.case.site,
            "due_at": window.due_at,
            "call_by": window.until_at,
            "next_at": window.due_at,
            # Whoever has the turn when it falls due; a rota that changes meanwhile is the owner's to settle.
            "owner": on_call_at(session.case.site, window.due_at),
            "planned_at": now,
            "state": FollowUpState.CALL if call else FollowUpState.WAITING,
        },
    )
    return follow_up


def _say(kind: str, follow_up: FollowUp, *, due_at: datetime, not_after: datetime, actor: Actor, now: datetime) -> None:
    messages.plan(
        kind=kind,
        subject=("follow_up", follow_up.pk),
        patient=follow_up.case.patient,
        site=follow_up.case.site,
        due_at=due_at,
        not_after=not_after,
        actor=actor,
        now=now,
    )


def _record(follow_up: FollowUp, actor: Actor) -> None:
    record(
        verb="recall.planned",
        actor=actor,
        subject=("follow_up", follow_up.pk),
        patient_id=follow_up.case.patient_id,
        site_id=follow_up.case.site_id,
        values={"kind": str(follow_up.kind), "due_at": follow_up.due_at.isoformat()},
    )

"""Many follow-ups at once: of cases that are closed, so that one patient may have them all. Invented throughout."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from whitening.cases.models import Case, CloseReason
from whitening.chairside.models import Session
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState


@dataclass(frozen=True, kw_only=True)
class Some:
    """So many in one state; the first needs something at next_at, each further one a minute later."""

    number: int
    state: FollowUpState
    next_at: datetime


def many(like: Session, *groups: Some) -> None:
    """Copies of a session that is closed, each with one follow-up."""
    wanted = [(group.state, group.next_at + timedelta(minutes=n)) for group in groups for n in range(group.number)]
    cases = Case.objects.bulk_create(_case(like.case) for _ in wanted)
    sessions = Session.objects.bulk_create(_session(like, case) for case in cases)
    FollowUp.objects.bulk_create(
        FollowUp(
            site=session.site,
            case=session.case,
            session=session,
            kind=FollowUpKind.TWO_DAY,
            state=state,
            due_at=next_at,
            call_by=next_at,
            next_at=next_at,
            owner=session.site.on_call,
            planned_at=session.opened_at,
            closed_at=next_at if state in {FollowUpState.DONE, FollowUpState.NOT_REACHED} else None,
        )
        for session, (state, next_at) in zip(sessions, wanted, strict=True)
    )


def _case(like: Case) -> Case:
    return Case(
        site=like.site,
        patient=like.patient,
        opened_at=like.opened_at,
        opened_by=like.opened_by,
        closed_at=like.opened_at,
        close_reason=CloseReason.FINISHED,
    )


def _session(like: Session, case: Case) -> Session:
    return Session(
        case=case,
        plan=like.plan,
        site=like.site,
        number=1,
        opened_at=like.opened_at,
        opened_by=like.opened_by,
        closed_at=like.closed_at,
        closed_by=like.closed_by,
    )

"""A session that is over, and what people say and do afterwards. Invented throughout."""

from datetime import date, datetime, time, timedelta

from django.db import transaction

from clinic.diary.models import Resource, ResourceKind, WorkingPattern
from clinic.messages import links
from clinic.messages.models import Call, DueMessage, State, Why
from tests.cast import NOW, Cast, actor_of
from tests.remembered import remembered
from tests.whitening.chairside import chairs
from whitening.chairside.models import Session
from whitening.recall.actions import plan_after_session, record_reply
from whitening.recall.kinds import HOW_ARE_YOU
from whitening.recall.models import Escalation, FollowUp, FollowUpKind
from whitening.recall.triage import Answers

WELL = Answers(
    sensitivity=0,
    worst=2,
    falling=True,
    woke_at_night=False,
    one_tooth=False,
    gums="fine",
    swelling=False,
    eye=False,
    painkillers="none",
    smoke="never",
    satisfaction=4,
)
# As the form of "How are you?" posts it.
WELL_POSTED = {
    "sensitivity": "0",
    "worst": "2",
    "falling": "yes",
    "woke_at_night": "no",
    "one_tooth": "no",
    "gums": "fine",
    "swelling": "no",
    "eye": "no",
    "painkillers": "none",
    "smoke": "never",
    "satisfaction": "4",
}


def later(**gap: float) -> datetime:
    return NOW + timedelta(**gap)


@remembered
def a_closed_session(cast: Cast, *, sessions: int = 1, needs_call: bool = False) -> Session:
    """Closed at NOW, a Tuesday at nine in the morning, by the clinician; its follow-ups are planned."""
    session = chairs.a_session(cast, sessions=sessions)
    if session.closed_at is None:
        session.closed_at, session.closed_by = NOW, cast.clinician
        session.save()
        plan(cast, session, needs_call=needs_call)
    return session


def plan(cast: Cast, session: Session, *, needs_call: bool = False) -> list[FollowUp]:
    with transaction.atomic():
        return plan_after_session(session=session, needs_call=needs_call, actor=actor_of(cast.clinician), now=NOW)


def follow_up(session: Session, kind: FollowUpKind) -> FollowUp:
    return FollowUp.objects.select_related("case__site").get(session=session, kind=kind)


def an_escalation(cast: Cast, *, at: datetime = NOW) -> Escalation:
    held = Escalation.objects.first()
    if held is not None:
        return held
    session = a_closed_session(cast)
    reply, _graded = record_reply(
        session=session, answers=Answers(sensitivity=5, falling=True), actor=actor_of(cast.clinician), now=at
    )
    return reply.escalation


def a_message_call(cast: Cast, *, now: datetime) -> Call:
    """The two-day check of a patient whom no message reaches."""
    a_closed_session(cast)
    message = DueMessage.objects.get(kind="two_day_check")
    return Call.objects.create(
        site=cast.fernbrook, patient=cast.patient, message=message, why=Why.NO_CHANNEL, wanted_at=now
    )


def an_astray_message(cast: Cast, *, state: State = State.UNCERTAIN) -> DueMessage:
    """The invitation to the review, of which nobody knows whether it went out."""
    a_closed_session(cast)
    message = DueMessage.objects.get(kind="review_invitation", step=0)
    message.state, message.settled_at = state, NOW
    message.save(update_fields=["state", "settled_at"])
    return message


def opening_hours(cast: Cast) -> Resource:
    """Weekdays from half past eight to half past five."""
    room = Resource.objects.create(site=cast.fernbrook, kind=ResourceKind.ROOM, name="Willow")
    for weekday in range(5):
        WorkingPattern.objects.create(
            resource=room, weekday=weekday, from_time=time(8, 30), to_time=time(17, 30), from_on=date(2026, 1, 1)
        )
    return room


def address(
    session: Session,
    *,
    purpose: str = HOW_ARE_YOU,
    subject_id: int | None = None,
    write_only: bool = False,
    now: datetime = NOW,
) -> str:
    """The path of a link that is made now; about the session, unless something else is named."""
    with transaction.atomic():
        _link, url = links.issue(
            purpose=purpose,
            subject_id=subject_id or session.pk,
            patient=session.case.patient,
            site=session.case.site,
            now=now,
            write_only=write_only,
        )
    return "/" + url.split("/", 3)[3]

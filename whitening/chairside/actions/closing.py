"""Closing a session: by a clinician, once nothing is missing, with all that follows in one transaction."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary import actions as diary
from clinic.diary.models import Status
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.chairside import log, registries, session_record, timings
from whitening.chairside.actions.recording import PageUsed, locked, written
from whitening.chairside.actions.rows import write
from whitening.chairside.actions.shades import keep_shades
from whitening.chairside.models import Session
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.payloads import Closed, Person
from whitening.chairside.protocol.state import SessionState

_IN_THE_CHAIR = {Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}


class NotReadyToClose(Refusal):
    code = "chairside.not_ready_to_close"
    sentence = _("The session cannot be closed yet. %(missing)s")


def close_session(*, session: Session, client_id: str, user: User, actor: Actor, now: datetime) -> Session:
    """Raises NotReadyToClose with the first thing that is missing. Pressed twice, by whomever, it closes once."""
    require(user, Capability.SESSION_CLOSE, session.site)
    with transaction.atomic():
        session = locked(session)
        if session.closed_at is not None:
            return session
        if written(session, client_id):
            raise PageUsed
        events = log.read(session)
        state = fold(events, log.plan_of(session, now=now), now)
        if state.missing:
            raise NotReadyToClose(missing=state.missing[0].label)
        closing = Closed(by=Person(id=user.pk, name=user.name))
        write(session, payloads=(closing,), client_id=client_id, happened_at=now, actor=actor, recorded_at=now)
        session.closed_at, session.closed_by = now, user
        session.save(update_fields=["closed_at", "closed_by"])
        keep_shades(session, events, actor=actor, now=now)
        if session.booking is not None and session.booking.status in _IN_THE_CHAIR:
            diary.finish(booking=session.booking, actor=actor, now=now)
        _record(session, state, actor)
        timings.learn(session=session, clinician=user, now=now)
        registries.closed(session=session, needs_call=state.needs_call, actor=actor, now=now)
        # After the sheet that the patient waits for.
        transaction.on_commit(lambda: session_record.after_closing(session, actor=actor, now=now))
    return session


def _record(session: Session, state: SessionState, actor: Actor) -> None:
    record(
        verb="chairside.closed",
        actor=actor,
        subject=("session", session.pk),
        patient_id=session.case.patient_id,
        site_id=session.site_id,
        values={
            "cycles": state.cycles_done,
            "ended_early": state.ended_early,
            "contacts": len(state.contacts),
            "past_limit": [mark.code.value for mark in state.past_limit],
        },
    )

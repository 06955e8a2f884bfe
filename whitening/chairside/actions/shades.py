"""The shades of a session become readings of its case when it is closed, and stay what its log says."""

from collections.abc import Sequence
from datetime import datetime

from clinic.trail.actor import Actor
from whitening.cases.actions import correct_shade, read_shade
from whitening.cases.models import Moment, ShadeReading
from whitening.chairside.models import Session
from whitening.chairside.protocol.events import Event
from whitening.chairside.told import Shade, standing_shades


def keep_shades(session: Session, events: Sequence[Event], *, actor: Actor, now: datetime) -> None:
    """Within the transaction that closes the session, or that takes in an entry which came after that."""
    told = {shade.moment: shade for shade in standing_shades(events)}
    kept: set[Moment] = set()
    for reading in session.case.shades.standing().filter(session_number=session.number).select_related("case"):
        shade = told.get(Moment(reading.moment))
        if shade is not None and _is(shade, reading):
            kept.add(shade.moment)
        else:
            correct_shade(reading=reading, actor=actor, now=now)
    for shade in told.values():
        if shade.moment not in kept:
            _keep(session, shade, actor)


def _is(shade: Shade, reading: ShadeReading) -> bool:
    return (shade.tab, shade.at, shade.by) == (reading.tab, reading.read_at, reading.read_by)


def _keep(session: Session, shade: Shade, actor: Actor) -> None:
    read_shade(
        case=session.case,
        moment=shade.moment,
        tab=shade.tab,
        actor=actor,
        now=shade.at,
        session_number=session.number,
        read_by=shade.by,
    )

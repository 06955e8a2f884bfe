"""Noting who looked at what, without a write to the database while a page is read."""

from datetime import timedelta
from uuid import uuid4

from clinic.trail import clock, spool
from clinic.trail.actor import Actor


def note_read(
    *, actor: Actor, what: str, subject: tuple[str, int | str], patient_id: int | None, site_id: int | None
) -> None:
    """`what` is a short fixed code such as `patients.page`, never a text about the person."""
    at = clock.real_now()
    spool.append(
        {
            "line": uuid4().hex,
            "at": at.isoformat(timespec="microseconds"),
            "clock_shift_seconds": clock.shift() // timedelta(seconds=1),
            "what": what,
            "actor_kind": actor.kind,
            "actor_id": actor.id,
            "subject_kind": subject[0],
            "subject_id": str(subject[1]),
            "patient_id": patient_id,
            "site_id": site_id,
        },
        at=at,
    )

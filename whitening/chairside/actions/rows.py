"""Writing entries of a log with the next numbers. The caller holds the session's row lock."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Max

from clinic.trail.actor import Actor
from whitening.chairside.models import Session, SessionEvent
from whitening.chairside.protocol.codec import to_data
from whitening.chairside.protocol.payloads import Payload, Undo


def write(
    session: Session,
    *,
    payloads: Sequence[Payload],
    client_id: str,
    happened_at: datetime,
    actor: Actor,
    recorded_at: datetime,
) -> list[SessionEvent]:
    last = session.events.aggregate(last=Max("seq"))["last"] or 0
    return SessionEvent.objects.bulk_create(
        SessionEvent(
            session=session,
            seq=last + 1 + place,
            kind=payload.kind.name.lower(),
            data=to_data(payload),
            happened_at=happened_at,
            recorded_at=recorded_at,
            actor_id=actor.id,
            actor_name=actor.name,
            client_id=f"{client_id}.{place}",
            undoes_seq=payload.seq if isinstance(payload, Undo) else None,
        )
        for place, payload in enumerate(payloads)
    )

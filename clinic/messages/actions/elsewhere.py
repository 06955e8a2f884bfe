"""Asking once more on another channel, when a question was handed over and nothing came back."""

from datetime import datetime

from clinic.messages import kinds
from clinic.messages.actions.planning import NEXT_TRY, plan
from clinic.messages.conditions import unused_channel
from clinic.messages.limits import GONE_OUT
from clinic.messages.models import DueMessage
from clinic.trail.actor import SYSTEM, Actor


def ask_elsewhere(
    *, kind: str, subject: tuple[str, int], step: int, not_after: datetime, now: datetime, actor: Actor = SYSTEM
) -> DueMessage | None:
    """None, and nothing is written, where nothing went out yet or the patient gave no other channel.

    The kind must keep later steps elsewhere; the channel itself is chosen again at hand-over.
    """
    gone = DueMessage.objects.about(subject).filter(kind=kind, state__in=GONE_OUT)
    rows = gone.select_related("patient__merged_into", "site").order_by("version", "step")
    first = next((row for row in rows if row.step % NEXT_TRY < step), None)
    if first is None:
        return None
    planned = DueMessage(
        site=first.site,
        patient=first.patient,
        subject_kind=subject[0],
        subject_id=subject[1],
        kind=kind,
        version=first.version,
        step=step,
    )
    if not unused_channel(planned, kinds.get(kind)):
        return None
    return plan(
        kind=kind,
        subject=subject,
        version=first.version,
        step=step,
        patient=first.patient,
        site=first.site,
        due_at=now,
        not_after=not_after,
        now=now,
        actor=actor,
    )

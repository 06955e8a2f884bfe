"""What the clock does: a check that was asked and not answered becomes a call. Running it twice changes nothing."""

from datetime import datetime

from django.db import transaction

from clinic.trail.actor import SYSTEM
from clinic.trail.record import record
from whitening.recall.models import FollowUp, FollowUpState

BATCH = 200  # rows in one transaction; a tick takes as many batches as there are


def tick(*, now: datetime) -> int:
    """Moves follow-ups on: asked once due, call once silent. Returns how many became calls."""
    FollowUp.objects.filter(state=FollowUpState.WAITING, due_at__lte=now).update(state=FollowUpState.ASKED)
    calls = 0
    while found := _call_batch(now):
        calls += found
    return calls


def _call_batch(now: datetime) -> int:
    with transaction.atomic():
        rows = list(
            FollowUp.objects.select_for_update(of=("self",))
            .filter(state=FollowUpState.ASKED, call_by__lte=now)
            .select_related("case")
            .order_by("pk")[:BATCH]
        )
        for row in rows:
            row.state = FollowUpState.CALL
            row.version += 1
            row.save(update_fields=["state", "version"])
            record(
                verb="recall.became_a_call",
                actor=SYSTEM,
                subject=("follow_up", row.pk),
                patient_id=row.case.patient_id,
                site_id=row.case.site_id,
                values={"kind": str(row.kind)},
            )
    return len(rows)

"""Follow-ups that nobody needs any more, and what is planned anew where the patient had not left after all."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from clinic.patients.leaving import Leaving
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record
from whitening.recall.actions.planning import calls_no_more
from whitening.recall.actions.recalling import end_recalls_of, open_recalls_again
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpQuerySet, FollowUpState

BATCH = 200  # rows in one transaction; a tick takes as many batches as there are


def not_needed() -> FollowUpQuerySet:
    """Nobody calls after a death. A closed case, or a patient who left, has no review; how they are is asked."""
    return FollowUp.objects.open().filter(_not_needed())


def _not_needed() -> Q:
    died = Q(case__patient__died_on__isnull=False)
    left = Q(case__closed_at__isnull=False) | Q(case__patient__moved_on__isnull=False)
    return died | Q(left, kind=FollowUpKind.REVIEW)


def end_for(patient: Patient, leaving: Leaving, actor: Actor, now: datetime) -> None:
    """In the transaction that notes it; the clock would find the same, a minute later."""
    end_recalls_of(patient, actor=actor, now=now)
    theirs = FollowUp.objects.open().filter(case__patient=patient)
    if leaving is Leaving.MOVED:
        theirs = theirs.filter(kind=FollowUpKind.REVIEW)
    while end_batch(theirs, now=now, actor=actor):
        pass


def begin_again(patient: Patient, since: date, actor: Actor, now: datetime) -> list[str]:
    """In the transaction that takes it back: what it ended, each by its own dates, and nothing in the past."""
    open_recalls_again(patient, actor=actor, now=now)
    ended = FollowUp.objects.filter(case__patient=patient, state=FollowUpState.CANCELLED, ended_by_leaving=True)
    rows = ended.exclude(_not_needed()).select_for_update(of=("self",)).select_related("case__site", "session")
    for row in rows.order_by("pk"):
        if row.kind == FollowUpKind.NEXT_DAY_CALL and calls_no_more(row.session, now):
            continue
        row.closed_at, row.ended_by_leaving, row.version = None, False, row.version + 1
        row.state, row.next_at = _resumed(row, now)
        row.save(update_fields=["closed_at", "ended_by_leaving", "version", "state", "next_at"])
        _record(row, "recall.planned_again", actor)
    return []


def _resumed(row: FollowUp, now: datetime) -> tuple[FollowUpState, datetime]:
    """Silence that lasted long enough becomes a call at the next tick, as any other does."""
    if row.kind == FollowUpKind.NEXT_DAY_CALL or row.attempts.exists():
        return FollowUpState.CALL, max(row.next_at, now)
    if now < row.due_at:
        return FollowUpState.WAITING, row.due_at
    return FollowUpState.ASKED, max(row.call_by, now)


def end_batch(chosen: FollowUpQuerySet, *, now: datetime, actor: Actor = SYSTEM) -> int:
    """Returns how many were ended, up to a batch."""
    return move_batch(
        chosen, FollowUpState.CANCELLED, "recall.not_needed", closed_at=now, actor=actor, is_by_leaving=True
    )


def move_batch(
    chosen: FollowUpQuerySet,
    state: FollowUpState,
    verb: str,
    *,
    closed_at: datetime | None = None,
    actor: Actor = SYSTEM,
    is_by_leaving: bool = False,
) -> int:
    """is_by_leaving: of somebody who died or moved away it begins again, should that have been a mistake."""
    with transaction.atomic():
        rows = list(chosen.select_for_update(of=("self",)).select_related("case__patient").order_by("pk")[:BATCH])
        for row in rows:
            patient = row.case.patient
            has_left = patient.died_on is not None or patient.moved_on is not None
            row.state, row.closed_at, row.version = state, closed_at, row.version + 1
            row.ended_by_leaving = is_by_leaving and has_left
            row.save(update_fields=["state", "closed_at", "version", "ended_by_leaving"])
            _record(row, verb, actor)
    return len(rows)


def _record(row: FollowUp, verb: str, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("follow_up", row.pk),
        patient_id=row.case.patient_id,
        site_id=row.site_id,
        values={"kind": str(row.kind)},
    )

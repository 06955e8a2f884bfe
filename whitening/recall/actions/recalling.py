"""Asked back after the review: three times at most, and not whoever is coming anyway, said no, died or moved away."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from clinic.diary.models import HOLDING, Booking, Status
from clinic.messages import actions as messages
from clinic.messages.actions.byhand import call_off
from clinic.messages.actions.planning import NEXT_TRY, note
from clinic.messages.conditions import surviving
from clinic.messages.limits import GONE_OUT
from clinic.messages.models import Call, DueMessage, Outcome, Why
from clinic.patients.contact import contact
from clinic.patients.models import Patient, Purpose
from clinic.patients.person import hold_person
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.record import record
from whitening.cases.models import Case
from whitening.recall import timing
from whitening.recall.actions.wishing import LOOKED_AFTER, end_wish
from whitening.recall.models import OPEN_RECALL, Recall, RecallAnswer, RecallKind, RecallQuerySet, RecallState

CHECK_RECALL, COLOUR_REMINDER = "check_recall", "colour_reminder"
MESSAGES = {RecallKind.CHECK: CHECK_RECALL, RecallKind.COLOUR: COLOUR_REMINDER}
PURPOSES = {RecallKind.CHECK: Purpose.RECALL, RecallKind.COLOUR: Purpose.COLOUR}
BATCH = 200
# A time that is only held for a telephone call, and one that nobody came to, is no coming back.
_COMES = [status for status in HOLDING if status not in {Status.NOSHOW, Status.PENDING}]


def plan_recalls(*, case: Case, check_months: int | None, actor: Actor, now: datetime) -> None:
    """In the transaction of the review. Whether the colour is asked about is read when its day has come: until then
    the patient may tick and untick it.
    """
    # What an earlier course had planned is judged anew now.
    _end_all(Recall.objects.open().filter(case__patient_id=case.patient_id), actor, now)
    months = {RecallKind.COLOUR: timing.COLOUR_MONTHS}
    if check_months is not None:
        months[RecallKind.CHECK] = check_months
    for kind, number in months.items():
        due_at = timing.recall_due(now, months=number, zone=case.site.zone)
        row = Recall.objects.create(site=case.site, case=case, kind=kind, due_at=due_at, next_at=due_at, planned_at=now)
        _note(row, "recall.recall_planned", actor, due_at=due_at.isoformat())


def ask_back(*, now: datetime) -> None:
    """What is due is asked, asked once more, or ended: each in a transaction of its own.

    One that fails keeps none of the others from being asked; the errors are raised when all have been looked at.
    """
    due = Recall.objects.open().filter(next_at__lte=now).order_by("next_at", "pk")
    errors: list[Exception] = []
    for pk in [*_lost_their_visit(now), *due.values_list("pk", flat=True)[:BATCH]]:
        try:
            with transaction.atomic():
                _look_at(pk, now)
        except Exception as error:  # noqa: BLE001  (whatever it is, the others are of other people)
            errors.append(error)
    if errors:
        raise ExceptionGroup("some could not be asked back", errors)


def held(pk: int) -> Recall:
    """The patient first, as whoever notes a death: that one holds the patient when it comes to the recalls."""
    hold_person(Patient.objects.get(cases__recalls=pk))
    return Recall.objects.select_for_update(of=("self",)).select_related("case__site", "case__patient").get(pk=pk)


def _look_at(pk: int, now: datetime) -> None:
    row = held(pk)
    if row.state == RecallState.BOOKED:
        if not comes_back(row, now=now):
            _open_again(row, now)
    elif row.state in OPEN_RECALL and row.next_at <= now:
        _step(row, now)


def _lost_their_visit(now: datetime) -> list[int]:
    """Booked, and the visit was cancelled or nobody came: whoever meant to come is not forgotten."""
    visits = Booking.objects.filter(patient=OuterRef("case__patient"), status__in=_COMES)
    kept = visits.filter(Q(starts_at__gte=now) | Q(starts_at__gte=OuterRef("due_at")))
    booked = Recall.objects.filter(state=RecallState.BOOKED, closed_at__gt=now - LOOKED_AFTER)
    return list(booked.exclude(Exists(kept)).order_by("pk").values_list("pk", flat=True)[:BATCH])


def _open_again(row: Recall, now: datetime) -> None:
    row.state, row.closed_at = RecallState.ASKED, None
    row.next_at = timing.recall_again(now, row.case.site.zone)
    row.save(update_fields=["state", "closed_at", "next_at"])
    _note(row, "recall.recall_opened_again", SYSTEM)


def _step(row: Recall, now: datetime) -> None:
    ending = not_wanted(row, now=now)
    if ending is not None:
        row.ended_by_leaving = has_left(row)
        _end(row, ending, SYSTEM, now)
    elif is_in_treatment(row):
        # Its own review plans anew; an enquiry that comes to nothing does not.
        row.next_at = timing.recall_again(now, row.case.site.zone)
        row.save(update_fields=["next_at"])
    elif (times := _times_heard(row)) >= timing.RECALL_TIMES:
        _end(row, RecallState.NOT_REACHED, SYSTEM, now)
    else:
        _ask(row, times, now)


def _times_heard(row: Recall) -> int:
    """How often it went out or somebody was to call; what never left the practice was not asked."""
    asked = DueMessage.objects.about(("recall", row.pk)).filter(step__lt=NEXT_TRY)
    return asked.filter(Q(state__in=GONE_OUT) | Q(call__isnull=False)).count()


def _ask(row: Recall, times: int, now: datetime) -> None:
    again_at = timing.recall_again(now, row.case.site.zone)
    messages.plan(
        kind=MESSAGES[RecallKind(row.kind)],
        subject=("recall", row.pk),
        patient=row.case.patient,
        site=row.case.site,
        due_at=now,
        not_after=again_at,
        step=DueMessage.objects.about(("recall", row.pk)).filter(step__lt=NEXT_TRY).count(),
        now=now,
    )
    row.state, row.next_at, row.times_asked = RecallState.ASKED, again_at, times + 1
    row.save(update_fields=["state", "next_at", "times_asked"])
    _note(row, "recall.asked_back", SYSTEM, times=row.times_asked)


def not_wanted(row: Recall, *, now: datetime) -> RecallState | None:
    """How it ends without being asked (again); None where it is to be asked."""
    allowed = contact(surviving(row.case.patient)).allowed[PURPOSES[RecallKind(row.kind)]]
    if has_left(row) or not allowed:
        return RecallState.CANCELLED
    if comes_back(row, now=now):
        return RecallState.BOOKED
    return RecallState.ANSWERED if _answered_by_telephone(row) else None


def has_left(row: Recall) -> bool:
    patient = surviving(row.case.patient)
    return patient.died_on is not None or patient.moved_on is not None


def is_in_treatment(row: Recall) -> bool:
    return Case.objects.open().filter(patient=row.case.patient).exists()


def _answered_by_telephone(row: Recall) -> bool:
    """One that the program called off is no answer."""
    calls = Call.objects.filter(message__subject_kind="recall", message__subject_id=row.pk)
    return calls.filter(outcome__in=[Outcome.REACHED, Outcome.NOT_NEEDED]).exists()


def comes_back(row: Recall, *, now: datetime) -> bool:
    """A visit that is still to come, or one that was held since the day on which the recall was due."""
    visits = Booking.objects.filter(patient=row.case.patient, status__in=_COMES)
    return visits.filter(Q(starts_at__gte=now) | Q(starts_at__gte=row.due_at)).exists()


def next_visit(row: Recall, *, now: datetime) -> Booking | None:
    """The first one that is still to come."""
    visits = Booking.objects.filter(patient=row.case.patient, status__in=_COMES, starts_at__gte=now)
    return visits.select_related("site").order_by("starts_at").first()


def booked_back(*, row: Recall, actor: Actor, now: datetime) -> None:
    """In the transaction that books the visit."""
    _end(row, RecallState.BOOKED, actor, now)


def may_answer(row: Recall, *, now: datetime) -> bool:
    """Also after the last silence, and when the visit that was booked has been lost."""
    if row.state in (*OPEN_RECALL, RecallState.NOT_REACHED):
        return True
    return row.state == RecallState.BOOKED and not comes_back(row, now=now)


def answer(*, row: Recall, said: RecallAnswer, actor: Actor, now: datetime) -> None:
    """By the patient's own page: no, or a call. Said twice, it is one answer."""
    with transaction.atomic():
        row = held(row.pk)
        if not may_answer(row, now=now):
            return
        row.answer = said
        row.save(update_fields=["answer"])
        _end(row, RecallState.ANSWERED, actor, now)
        if said is RecallAnswer.CALL:
            _call(row, actor, now)
        elif row.kind == RecallKind.COLOUR:
            # The page says that nobody writes about this again.
            end_wish(patient=surviving(row.case.patient), wording=str(RecallAnswer.NO.label), actor=actor, now=now)


def end_recalls_of(patient: Patient, *, actor: Actor, now: datetime) -> None:
    """In the transaction that notes a death or that somebody moved away."""
    _end_all(Recall.objects.open().filter(case__patient=patient), actor, now, by_leaving=True)


def open_recalls_again(patient: Patient, *, actor: Actor, now: datetime) -> None:
    """It was a mistake. Each keeps its own day; one that has passed is today. A later review has planned its own."""
    if patient.died_on is not None or patient.moved_on is not None:
        return
    newer = Recall.objects.filter(case__patient=OuterRef("case__patient"), kind=OuterRef("kind"), pk__gt=OuterRef("pk"))
    ended = Recall.objects.filter(case__patient=patient, state=RecallState.CANCELLED, ended_by_leaving=True)
    for row in ended.exclude(Exists(newer)).select_for_update(of=("self",)).select_related("case").order_by("pk"):
        row.state = RecallState.ASKED if row.times_asked else RecallState.WAITING
        row.closed_at, row.ended_by_leaving, row.next_at = None, False, max(row.next_at, now)
        row.save(update_fields=["state", "closed_at", "ended_by_leaving", "next_at"])
        _note(row, "recall.recall_planned", actor, due_at=row.next_at.isoformat())


def end_older_recalls(patients: Sequence[Patient], *, actor: Actor, now: datetime) -> None:
    """They turned out to be one person: of each kind the one that was planned last is asked."""
    for kind in RecallKind:
        theirs = Recall.objects.open().filter(case__patient__in=patients, kind=kind)
        newest = theirs.order_by("-planned_at", "-pk").values_list("pk", flat=True).first()
        _end_all(theirs.exclude(pk=newest or 0), actor, now)


def _end_all(chosen: RecallQuerySet, actor: Actor, now: datetime, *, by_leaving: bool = False) -> None:
    for row in chosen.select_for_update(of=("self",)).select_related("case").order_by("pk"):
        row.ended_by_leaving = by_leaving
        _end(row, RecallState.CANCELLED, actor, now)


def _call(row: Recall, actor: Actor, now: datetime) -> None:
    """Beside the message that brought the patient to the page; a call that was made about it before is open again."""
    asked = DueMessage.objects.about(("recall", row.pk)).order_by("-step").first()
    if asked is None:
        return
    wanted = {"why": Why.PREFERS, "wanted_at": now, "settled_at": None, "settled_by": "", "outcome": ""}
    Call.objects.update_or_create(
        message=asked, defaults={"site": row.site, "patient_id": row.case.patient_id} | wanted
    )
    note(asked, verb="messages.became_a_call", actor=actor, why=Why.PREFERS)


def _end(row: Recall, state: RecallState, actor: Actor, now: datetime) -> None:
    row.state, row.closed_at = state, now
    row.save(update_fields=["state", "closed_at", "ended_by_leaving"])
    messages.cancel_for(subject=("recall", row.pk), because="the recall is over", actor=actor, now=now)
    _settle_calls(row, actor, now)
    _note(row, "recall.recall_ended", actor, state=str(state), answer=row.answer)


def _settle_calls(row: Recall, actor: Actor, now: datetime) -> None:
    """Nobody rings about what is over."""
    calls = Call.objects.open().filter(message__subject_kind="recall", message__subject_id=row.pk)
    call_off(list(calls.select_related("message").order_by("pk")), actor=actor, now=now)


def _note(row: Recall, verb: str, actor: Actor, **values: object) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("recall", row.pk),
        patient_id=row.case.patient_id,
        site_id=row.site_id,
        values={"kind": str(row.kind)} | values,
    )

"""What the clock does: silence becomes a call, an answer nobody took is raised again. Twice is as good as once."""

from datetime import datetime

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Subquery

from clinic.diary.models import Status
from clinic.messages.actions.byhand import call_off
from clinic.messages.actions.elsewhere import ask_elsewhere
from clinic.messages.models import Call, DueMessage
from clinic.trail.actor import SYSTEM
from whitening.cases.models import Case, CaseVisit, Plan, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.actions.ending import BATCH, end_batch, move_batch, not_needed
from whitening.recall.actions.planning import TWO_DAY_CHECK, plan_late_review
from whitening.recall.actions.raising import raise_again
from whitening.recall.actions.recalling import ask_back
from whitening.recall.actions.wishing import end_what_was_met
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpQuerySet, FollowUpState

SECOND_TRY = 1  # the step of the message; the first asking is step 0
# One that is over and of which nothing was written down is no answer: somebody has to ask how it went.
REVIEW_STANDS = [Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN]


def tick(*, now: datetime) -> int:
    """Moves follow-ups on: asked once due, call once silent. Returns how many became calls.

    A step that fails keeps none of the others from being taken; its error is raised when all have been.
    """
    errors: list[Exception] = []
    for step in (
        raise_again,
        _end_what_is_not_needed,
        _settle_calls,
        _plan_late_reviews,
        _ask,
        _ask_elsewhere,
        ask_back,
        end_what_was_met,
    ):
        try:
            step(now=now)
        except Exception as error:  # noqa: BLE001  (whatever it is, the others are of other people)
            errors.append(error)
    calls = 0
    while found := move_batch(_silent(now), FollowUpState.CALL, "recall.became_a_call"):
        calls += found
    if errors:
        raise ExceptionGroup("a step of the tick failed", errors)
    return calls


def _end_what_is_not_needed(*, now: datetime) -> None:
    while end_batch(not_needed(), now=now):
        pass


def _settle_calls(*, now: datetime) -> None:
    """Calls instead of a message about what has been answered, called about or ended since: nobody makes them."""
    over = FollowUp.objects.filter(pk=OuterRef("message__subject_id"), closed_at__isnull=False)
    calls = Call.objects.open().filter(Exists(over), message__subject_kind="follow_up")
    with transaction.atomic():
        call_off(list(calls.select_related("message").order_by("pk")[:BATCH]), actor=SYSTEM, now=now)


def _plan_late_reviews(*, now: datetime) -> None:
    """A plan that is shortened after its last session leaves no closing that would plan the review."""
    for session in _last_of_shortened_courses():
        with transaction.atomic():
            case = Case.objects.select_for_update().get(pk=session.case_id)
            if case.closed_at is None and not case.followups.filter(kind=FollowUpKind.REVIEW).exists():
                plan_late_review(session=session, actor=SYSTEM, now=now)


def _last_of_shortened_courses() -> list[Session]:
    reviewed = FollowUp.objects.filter(kind=FollowUpKind.REVIEW, case=OuterRef("case"))
    later = Session.objects.filter(case=OuterRef("case"), number__gt=OuterRef("number"))
    newest_plan = Plan.objects.filter(case=OuterRef("case")).order_by("-version").values("sessions")[:1]
    closed = Session.objects.filter(case__closed_at=None, closed_at__isnull=False)
    here = closed.filter(case__patient__died_on=None, case__patient__moved_on=None)
    over = here.annotate(planned=Subquery(newest_plan)).filter(number__gte=F("planned"))
    found = over.exclude(Exists(reviewed)).exclude(Exists(later))
    return list(found.select_related("case__site__on_call", "case__patient").order_by("pk")[:BATCH])


def _ask(*, now: datetime) -> None:
    FollowUp.objects.filter(state=FollowUpState.WAITING, next_at__lte=now).update(
        state=FollowUpState.ASKED, next_at=F("call_by")
    )


def _ask_elsewhere(*, now: datetime) -> None:
    """F48-11: a check that nobody answered is asked once more, on another channel, before it becomes a call."""
    asked = DueMessage.objects.filter(
        subject_kind="follow_up", subject_id=OuterRef("pk"), kind=TWO_DAY_CHECK, step=SECOND_TRY
    )
    silent = FollowUp.objects.filter(
        kind=FollowUpKind.TWO_DAY,
        state=FollowUpState.ASKED,
        due_at__lte=now - timing.SECOND_TRY_AFTER,
        next_at__gt=now,
    )
    for pk, call_by in list(silent.exclude(Exists(asked)).values_list("pk", "call_by")):
        with transaction.atomic():
            ask_elsewhere(kind=TWO_DAY_CHECK, subject=("follow_up", pk), step=SECOND_TRY, not_after=call_by, now=now)


def _silent(now: datetime) -> FollowUpQuerySet:
    """Asked, and nothing heard; a review that stands in the diary is an answer."""
    booked = CaseVisit.objects.filter(purpose=VisitPurpose.REVIEW, booking__status__in=REVIEW_STANDS)
    # Asked here too: the step that ends what is not needed may just have failed.
    silent = FollowUp.objects.filter(state=FollowUpState.ASKED, next_at__lte=now, case__patient__died_on=None)
    return silent.exclude(kind=FollowUpKind.REVIEW, case__in=booked.values("case"))

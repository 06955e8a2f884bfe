"""The month review: shade by the same method, sensitivity, satisfaction, decision; then the case closes."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.models import HOLDING, Booking
from clinic.messages import links
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import CaseClosed, close_case, read_shade
from whitening.cases.models import Case, CloseReason, Moment, VisitPurpose
from whitening.recall import timing
from whitening.recall.actions.ending import move_batch
from whitening.recall.actions.recalling import plan_recalls
from whitening.recall.actions.wishing import ask_about_colour
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState, Review, ReviewDecision, Satisfaction


class NothingToReview(Refusal):
    code = "recall.nothing_to_review"
    sentence = _("No session of this case is closed yet, so there is nothing to review.")


class ReviewedAlready(Refusal):
    code = "recall.reviewed_already"
    sentence = _("This case has its review already. A new course needs a new case.")


class TooEarlyToReview(Refusal):
    code = "recall.too_early_to_review"
    sentence = _("The colour has not settled yet: the review can be recorded from %(day)s on. Book a problem visit.")


@dataclass(frozen=True, slots=True)
class ReviewDetails:
    tab: str
    sensitivity: int
    satisfaction: Satisfaction
    gums_quiet: bool
    decision: ReviewDecision
    words: str = ""
    # The dentist's own interval until the next dental check; None where somebody else sees to it.
    check_months: int | None = None
    # The words that the patient ticked, where they want to be reminded about the colour in about a year.
    colour_wording: str = ""


def record_review(*, case: Case, details: ReviewDetails, user: User, actor: Actor, now: datetime) -> Review:
    """Writes the review and closes the case as finished. Raises what `reviewable` raises."""
    require(user, Capability.REVIEW_RECORD, case.site)
    last_session_on = reviewable(case, now=now)
    today = now.astimezone(case.site.zone).date()
    is_late = timing.review_is_late(last_session_on=last_session_on, reviewed_on=today)
    try:
        with transaction.atomic():
            shade = read_shade(case=case, moment=Moment.REVIEW, tab=details.tab, actor=actor, now=now)
            review = Review.objects.create(
                case=case,
                booking=_booking(case, today),
                shade=shade,
                sensitivity=details.sensitivity,
                satisfaction=details.satisfaction,
                gums_quiet=details.gums_quiet,
                words=details.words,
                decision=details.decision,
                is_late=is_late,
                reviewed_at=now,
                reviewed_by=user,
            )
            _settle(case, actor, now)
            if details.colour_wording:
                ask_about_colour(patient=case.patient, wording=details.colour_wording, actor=actor, now=now)
            plan_recalls(case=case, check_months=details.check_months, actor=actor, now=now)
            _record(review, actor)
            close_case(case=case, reason=CloseReason.FINISHED, words="", actor=actor, now=now)
    except IntegrityError as error:
        if not Review.objects.filter(case=case).exists():
            raise
        raise ReviewedAlready from error
    return review


def reviewable(case: Case, *, now: datetime) -> date:
    """The local day of the last session. Raises ReviewedAlready, CaseClosed, NothingToReview or TooEarlyToReview."""
    if Review.objects.filter(case=case).exists():
        raise ReviewedAlready
    if case.closed_at is not None:
        raise CaseClosed
    session = case.sessions.exclude(closed_at=None).order_by("closed_at").last()
    if session is None or session.closed_at is None:
        raise NothingToReview
    zone = case.site.zone
    first_on = timing.local_day(timing.review_times(session.closed_at, zone).due_at, zone)
    if timing.local_day(now, zone) < first_on:
        raise TooEarlyToReview(day=day_words(first_on))
    return timing.local_day(session.closed_at, zone)


def _booking(case: Case, today: date) -> Booking | None:
    """The review visit of that day, where there was one."""
    visits = case.visits.filter(purpose=VisitPurpose.REVIEW, booking__wall_on=today, booking__status__in=HOLDING)
    visit = visits.select_related("booking").order_by("booking__starts_at").last()
    return visit.booking if visit else None


def _settle(case: Case, actor: Actor, now: datetime) -> None:
    """The review is done: what still waited for this course ends, and so do the pages that belonged to it."""
    waiting = FollowUp.objects.filter(case=case).open()
    review, others = waiting.filter(kind=FollowUpKind.REVIEW), waiting.exclude(kind=FollowUpKind.REVIEW)
    move_batch(review, FollowUpState.DONE, "recall.review_done", closed_at=now, actor=actor)
    # Not by their leaving, should they have left: no check begins again behind the review.
    while move_batch(others, FollowUpState.CANCELLED, "recall.not_needed", closed_at=now, actor=actor):
        pass
    for session_id in case.sessions.values_list("pk", flat=True):
        for purpose in ("review", "how_are_you"):
            links.end(purpose=purpose, subject_id=session_id, now=now, actor=actor)


def _record(review: Review, actor: Actor) -> None:
    record(
        verb="recall.reviewed",
        actor=actor,
        subject=("case", review.case_id),
        patient_id=review.case.patient_id,
        site_id=review.case.site_id,
        values={
            "sensitivity": review.sensitivity,
            "satisfaction": int(review.satisfaction),
            "decision": str(review.decision),
            "words": review.words,
        },
    )

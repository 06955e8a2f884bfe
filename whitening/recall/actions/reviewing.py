"""The month review: shade by the same method, sensitivity, satisfaction, decision; then the case closes."""

from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.messages import links
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import close_case, read_shade
from whitening.cases.models import Case, CloseReason, Moment
from whitening.chairside.models import Session
from whitening.recall import timing
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState, Review, ReviewDecision, Satisfaction


class NothingToReview(Refusal):
    code = "recall.nothing_to_review"
    sentence = _("No session of this case is closed yet, so there is nothing to review.")


class ReviewedAlready(Refusal):
    code = "recall.reviewed_already"
    sentence = _("This case has its review already. A new course needs a new case.")


@dataclass(frozen=True, slots=True)
class ReviewDetails:
    tab: str
    sensitivity: int
    satisfaction: Satisfaction
    gums_quiet: bool
    decision: ReviewDecision
    words: str = ""


def record_review(*, case: Case, details: ReviewDetails, user: User, actor: Actor, now: datetime) -> Review:
    """Writes the review and closes the case as finished. Raises NothingToReview or ReviewedAlready."""
    require(user, Capability.REVIEW_RECORD, case.site)
    session = case.sessions.exclude(closed_at=None).order_by("closed_at").last()
    if session is None or session.closed_at is None:
        raise NothingToReview
    zone = case.site.zone
    is_late = timing.review_is_late(
        last_session_on=session.closed_at.astimezone(zone).date(), reviewed_on=now.astimezone(zone).date()
    )
    try:
        with transaction.atomic():
            shade = read_shade(case=case, moment=Moment.REVIEW, tab=details.tab, actor=actor, now=now)
            review = Review.objects.create(
                case=case,
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
            _settle(case, session, actor, now)
            _record(review, actor)
            close_case(case=case, reason=CloseReason.FINISHED, words="", actor=actor, now=now)
    except IntegrityError as error:
        if not Review.objects.filter(case=case).exists():
            raise
        raise ReviewedAlready from error
    return review


def _settle(case: Case, session: Session, actor: Actor, now: datetime) -> None:
    """The review is done: its follow-up closes, and the pages that belonged to it close with it."""
    waiting = FollowUp.objects.filter(case=case, kind=FollowUpKind.REVIEW).open()
    waiting.update(state=FollowUpState.DONE, closed_at=now)
    for purpose in ("review", "how_are_you"):
        links.end(purpose=purpose, subject_id=session.pk, now=now, actor=actor)


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

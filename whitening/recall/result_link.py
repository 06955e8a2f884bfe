"""The letter about the result by private link: for a while after the review, when all other pages have ended."""

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.messages import actions as messages
from clinic.messages import kinds, purposes, subjects
from clinic.messages.kinds import Kind, LinkSpec
from clinic.messages.letters import Letter
from clinic.messages.models import DueMessage
from clinic.messages.wordings.saying import say
from clinic.patients.models import Purpose
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.recall import message_slots
from whitening.recall.models import Review

RESULT, MESSAGE = "result", "result_ready"
# Long enough for somebody who is away for some weeks; common practice, no source.
OPEN_FOR = timedelta(days=60)


class NoPageForResult(Refusal):
    code = "recall.no_page_for_result"
    sentence = _("The page with this letter is open from the review on, for 60 days. Print the letter instead.")


def review_of(case: Case, *, now: datetime) -> Review | None:
    """The one whose letter can be opened by link now."""
    review = Review.objects.filter(case=case).select_related("case__site", "case__patient").first()
    return review if review is not None and now < review.reviewed_at + OPEN_FOR else None


def send_link(*, case: Case, user: User, actor: Actor, now: datetime) -> DueMessage:
    """Each press is a message of its own; the link that went out before ends when the new one does."""
    require(user, Capability.MESSAGES_SEND, case.site)
    with transaction.atomic():
        review = review_of(case, now=now)
        if review is None:
            raise NoPageForResult
        about = DueMessage.objects.about(("review", review.pk)).filter(kind=MESSAGE)
        version = (about.aggregate(last=Max("version"))["last"] or 0) + 1
        return messages.plan(
            kind=MESSAGE,
            subject=("review", review.pk),
            patient=case.patient,
            site=case.site,
            due_at=now,
            now=now,
            version=version,
            actor=actor,
        )


def _window(review_id: int, now: datetime) -> purposes.Window | None:
    review = _load(review_id)
    if review is None or now >= review.reviewed_at + OPEN_FOR:
        return None
    return purposes.Window(opens_at=review.reviewed_at, closes_at=review.reviewed_at + OPEN_FOR)


def _load(pk: int) -> Review | None:
    return Review.objects.select_related("case__site", "case__patient").filter(pk=pk).first()


def _compose(review: Review, message: DueMessage, link_url: str) -> Letter:
    case = review.case
    context = {"site": case.site, "patient": case.patient, "link_url": link_url}
    return say(MESSAGE, context)


def register() -> None:
    subjects.register("review", Review, patient="case__patient")
    purposes.register(
        purposes.LinkPurpose(
            code=RESULT, title=_("Your letter"), subject_kind="review", landing="own_result", window=_window
        )
    )
    link: LinkSpec[Review] = LinkSpec(purpose=RESULT, subject_id=lambda review: review.pk)
    kinds.register(
        Kind(
            code=MESSAGE,
            label=_("letter about the result"),
            purpose=Purpose.SAFETY,
            subject_kind="review",
            load=_load,
            still_wanted=lambda review, message, now: True,
            compose=_compose,
            wording=f"recall/messages/{MESSAGE}",
            own_words=message_slots.PLAIN,
            lasts=timedelta(days=2),
            link=link,
            on_request=True,
        )
    )

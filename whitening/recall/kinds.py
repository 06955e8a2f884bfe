"""Recall's kinds of message and its two private links: "How are you?" and "Your month review"."""

from collections.abc import Callable
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from clinic.messages import kinds, purposes, subjects
from clinic.messages.kinds import Kind, LinkSpec, Wanted
from clinic.messages.letters import Letter
from clinic.messages.models import DueMessage
from clinic.messages.wordings.saying import say
from clinic.patients.models import Purpose
from whitening.cases.models import Case
from whitening.chairside.models import Session
from whitening.recall import colleagues, message_slots, timing
from whitening.recall.actions.planning import AFTERCARE, REVIEW_INVITATION, REVIEW_REMINDER, TWO_DAY_CHECK
from whitening.recall.models import FollowUp, FollowUpState, Review
from whitening.recall.visits import review_visit

HOW_ARE_YOU, REVIEW = "how_are_you", "review"
_OVER = {FollowUpState.DONE, FollowUpState.ANSWERED, FollowUpState.CANCELLED, FollowUpState.NOT_REACHED}


def register() -> None:
    _register_purposes()
    kinds.register(
        Kind(
            code=AFTERCARE,
            label=_("aftercare sheet"),
            purpose=Purpose.SAFETY,
            subject_kind="follow_up",
            load=_READING.one,
            reading=_READING,
            still_wanted=lambda follow_up, message, now: True,
            compose=_composer(AFTERCARE),
            wording=f"recall/messages/{AFTERCARE}",
            own_words=message_slots.OWN_WORDS[AFTERCARE],
            lasts=timedelta(days=2),
            link=_HOW_LINK,
            safety=True,
            on_request=True,
        )
    )
    kinds.register(
        Kind(
            code=TWO_DAY_CHECK,
            label=_("How are you?"),
            purpose=Purpose.SAFETY,
            subject_kind="follow_up",
            load=_READING.one,
            reading=_READING,
            still_wanted=_still_open,
            compose=_composer(TWO_DAY_CHECK),
            wording=f"recall/messages/{TWO_DAY_CHECK}",
            own_words=message_slots.OWN_WORDS[TWO_DAY_CHECK],
            lasts=timedelta(days=2),
            link=_HOW_LINK,
            safety=True,
            later_steps_elsewhere=True,
        )
    )
    _register_reviews()
    colleagues.register()


def _register_reviews() -> None:
    for code, label in (
        (REVIEW_INVITATION, _("invitation to the review")),
        (REVIEW_REMINDER, _("asked again about the review")),
    ):
        kinds.register(
            Kind(
                code=code,
                label=label,
                purpose=Purpose.APPOINTMENT,
                subject_kind="follow_up",
                load=_READING.one,
                reading=_READING,
                still_wanted=_review_wanted,
                compose=_composer(code),
                wording=f"recall/messages/{code}",
                own_words=message_slots.OWN_WORDS[code],
                # No longer than until the next step: a reminder, then a call.
                lasts=timedelta(days=timing.REVIEW_REMINDER_DAY - timing.REVIEW_PAGE_FROM),
                link=_REVIEW_LINK,
                letter_by=lambda _follow_up, message: message.not_after,
            )
        )


def _register_purposes() -> None:
    subjects.register("follow_up", FollowUp, patient="case__patient")
    subjects.register("session", Session, patient="case__patient")
    purposes.register(
        purposes.LinkPurpose(
            code=HOW_ARE_YOU,
            title=_("How are you?"),
            subject_kind="session",
            landing="how_are_you",
            window=_how_window,
        )
    )
    purposes.register(
        purposes.LinkPurpose(
            code=REVIEW,
            title=_("Your month review"),
            subject_kind="session",
            landing="review_time",
            window=_review_window,
        )
    )


_READING: kinds.Reading[FollowUp] = kinds.Reading(
    model=FollowUp, related=("case__patient", "session"), shared=("case__site",), deciding=("case", "session")
)


def _session(pk: int) -> Session | None:
    return Session.objects.select_related("case__site", "case__patient").filter(pk=pk).first()


def _still_open(follow_up: FollowUp, message: DueMessage, now: datetime) -> Wanted:
    """Somebody who ended the course early is asked how they are all the same."""
    return "answered already" if follow_up.state in _OVER else True


def _review_wanted(follow_up: FollowUp, message: DueMessage, now: datetime) -> Wanted:
    if follow_up.case.closed_at is not None:
        return "the case is closed"
    if review_visit(follow_up.case) is not None:
        return "booked already"
    return _still_open(follow_up, message, now)


def _how_window(session_id: int, now: datetime) -> purposes.Window | None:
    """From closing the session to the review, at the latest the end of the review's page."""
    session = _session(session_id)
    return None if session is None else _how_window_of(session, session.case, now)


def _how_window_of(session: Session, case: Case, now: datetime) -> purposes.Window | None:
    if session.closed_at is None or Review.objects.filter(case=case).exists():
        return None
    closes_at = timing.review_page(session.closed_at, case.site.zone).until_at
    return purposes.Window(opens_at=session.closed_at, closes_at=closes_at) if now < closes_at else None


def _review_window(session_id: int, now: datetime) -> purposes.Window | None:
    """Day 21 to 60 after the session."""
    session = _session(session_id)
    return None if session is None else _review_window_of(session, session.case, now)


def _review_window_of(session: Session, case: Case, now: datetime) -> purposes.Window | None:
    if session.closed_at is None or case.closed_at is not None:
        return None
    page = timing.review_page(session.closed_at, case.site.zone)
    return purposes.Window(opens_at=page.due_at, closes_at=page.until_at) if now < page.until_at else None


_HOW_LINK: LinkSpec[FollowUp] = LinkSpec(
    purpose=HOW_ARE_YOU,
    subject_id=lambda follow_up: follow_up.session_id,
    window=lambda follow_up, now: _how_window_of(follow_up.session, follow_up.case, now),
)
_REVIEW_LINK: LinkSpec[FollowUp] = LinkSpec(
    purpose=REVIEW,
    subject_id=lambda follow_up: follow_up.session_id,
    window=lambda follow_up, now: _review_window_of(follow_up.session, follow_up.case, now),
)


def _composer(code: str) -> Callable[[FollowUp, DueMessage, str], Letter]:
    def compose(follow_up: FollowUp, message: DueMessage, link_url: str) -> Letter:
        context = {
            "follow_up": follow_up,
            "site": follow_up.case.site,
            "patient": follow_up.case.patient,
            "link_url": link_url,
        }
        return say(code, context)

    return compose

"""What stands in each line of Follow-ups: what was asked and when, by which way, and the one thing to do next.

A fixed number of queries for all lines of the page together.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, sites_where
from clinic.diary.models import Booking
from clinic.messages import kinds
from clinic.messages.models import Call, DueMessage
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.recall.actions.calls import capability_for
from whitening.recall.actions.planning import REVIEW_INVITATION, REVIEW_REMINDER, TWO_DAY_CHECK
from whitening.recall.models import Attempt, AttemptResult, FollowUp, FollowUpKind, FollowUpState
from whitening.recall.timing import REVIEW_FIRST_DAY, local_day
from whitening.recall.visits import COMING

QUESTIONS = [TWO_DAY_CHECK, REVIEW_INVITATION, REVIEW_REMINDER]


@dataclass(frozen=True, slots=True)
class Step:
    words: StrOrPromise
    url: str


@dataclass(frozen=True, slots=True)
class Line:
    """A follow-up as its line shows it."""

    followup: FollowUp
    # The newest message that went out about it.
    asked: DueMessage | None
    last_try: Attempt | None
    tries: int
    visit: Booking | None
    # What a call about it may be noted with by this person: the one thing to do, where there is no other step.
    logs_call: bool
    step: Step | None
    # May ask the patient, and read what was said in a call.
    may_ask: bool
    # May give it to somebody else who asks.
    may_hand_on: bool

    @property
    def results(self) -> list[tuple[str, StrOrPromise]]:
        """How a call of this person can have gone."""
        return [(one.value, one.label) for one in AttemptResult if self.may_ask or one is not AttemptResult.REACHED]

    @property
    def wrong_number(self) -> bool:
        return self.followup.case.patient.phone_wrong_at is not None


@dataclass(frozen=True, slots=True)
class _Beside:
    asked: Mapping[int, DueMessage]
    tries: Mapping[int, Sequence[Attempt]]
    visits: Mapping[int, Booking]
    may: Mapping[Capability, frozenset[int]]


_ASKED_FOR = (
    Capability.FOLLOWUPS_WORK,
    Capability.RECALL_CALL,
    Capability.PATIENTS_WRITE,
    Capability.DIARY_BOOK,
    Capability.REVIEW_RECORD,
)


def lines(rows: Sequence[FollowUp], *, user: User, now: datetime) -> dict[int, Line]:
    """By the key of the follow-up. Three queries."""
    ids = [row.pk for row in rows]
    tries: dict[int, list[Attempt]] = {pk: [] for pk in ids}
    for attempt in Attempt.objects.filter(followup__in=ids).order_by("tried_at", "pk"):
        tries[attempt.followup_id].append(attempt)
    beside = _Beside(
        asked=_asked(ids),
        tries=tries,
        visits=_visits(row.case_id for row in rows if row.kind == FollowUpKind.REVIEW),
        may={one: sites_where(user, one) for one in _ASKED_FOR},
    )
    return {row.pk: _line(row, beside, now) for row in rows}


def messages(rows: Iterable[DueMessage]) -> list[tuple[DueMessage, str | Promise]]:
    """(message, what it was about)."""
    return [(one, kinds.label_of(one.kind)) for one in rows]


def calls(rows: Iterable[Call]) -> list[tuple[Call, str | Promise]]:
    return [(one, kinds.label_of(one.message.kind)) for one in rows]


def _asked(ids: Sequence[int]) -> dict[int, DueMessage]:
    gone = DueMessage.objects.filter(subject_kind="follow_up", subject_id__in=ids, kind__in=QUESTIONS)
    rows = gone.exclude(handed_over_at=None).order_by("handed_over_at", "pk")
    return {one.subject_id: one for one in rows}


def _visits(cases: Iterable[int]) -> dict[int, Booking]:
    reviews = CaseVisit.objects.filter(case__in=set(cases), purpose=VisitPurpose.REVIEW, booking__status__in=COMING)
    rows = reviews.select_related("booking").order_by("booking__starts_at", "pk")
    return {one.case_id: one.booking for one in rows}


def _line(row: FollowUp, beside: _Beside, now: datetime) -> Line:
    tries = beside.tries[row.pk]
    may_call = row.site_id in beside.may[Capability.RECALL_CALL]
    visit = beside.visits.get(row.case_id) if row.kind == FollowUpKind.REVIEW else None
    calls_now = row.closed_at is None and (row.state == FollowUpState.CALL or row.kind == FollowUpKind.NEXT_DAY_CALL)
    return Line(
        followup=row,
        asked=beside.asked.get(row.pk),
        last_try=tries[-1] if tries else None,
        tries=len(tries),
        visit=visit,
        logs_call=may_call and calls_now,
        step=_step(row, visit, beside, calls_now, now),
        may_ask=row.site_id in beside.may[capability_for(row.kind)],
        may_hand_on=may_call and row.closed_at is None,
    )


def _step(row: FollowUp, visit: Booking | None, beside: _Beside, calls_now: bool, now: datetime) -> Step | None:
    """None where the line logs a call, or where nothing is this person's to do."""
    if row.closed_at is not None:
        return Step(_("Look at the case"), reverse("case", args=[row.case_id]))
    if calls_now:
        return _other_number(row, beside)
    if row.kind == FollowUpKind.REVIEW:
        return _review(row, visit, beside, now)
    if row.site_id in beside.may[Capability.FOLLOWUPS_WORK]:
        return Step(_("Type in how they are"), reverse("type_reply", args=[row.session_id]))
    return None


def _other_number(row: FollowUp, beside: _Beside) -> Step | None:
    patient = row.case.patient
    has_number = bool(patient.phone) and patient.phone_wrong_at is None
    if has_number or row.site_id not in beside.may[Capability.PATIENTS_WRITE]:
        return None
    return Step(_("Enter another number"), reverse("patient_change", args=[patient.pk]))


def _review(row: FollowUp, visit: Booking | None, beside: _Beside, now: datetime) -> Step | None:
    closed_at = row.session.closed_at or row.planned_at
    is_settled = (local_day(now, row.site.zone) - local_day(closed_at, row.site.zone)).days >= REVIEW_FIRST_DAY
    if visit is not None and is_settled and row.site_id in beside.may[Capability.REVIEW_RECORD]:
        return Step(_("Record the review"), reverse("review", args=[row.case_id]))
    if visit is not None:
        return Step(_("Look at the visit"), reverse("booking", args=[visit.pk]))
    if row.site_id in beside.may[Capability.DIARY_BOOK]:
        return Step(_("Find a time"), reverse("case_time", args=[row.case_id, "review"]))
    return None

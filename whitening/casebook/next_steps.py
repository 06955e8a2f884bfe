"""What to do next with a case, for the person who looks: the first is the page's main action."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.diary.models import Status
from whitening.casebook.gates import Gate, shut
from whitening.casebook.stage import Stage
from whitening.cases.models import Case, CaseVisit, VisitPurpose

_STANDING = {Status.PROPOSED, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN, Status.FULFILLED}
_HERE = {Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}


@dataclass(frozen=True, slots=True)
class NextStep:
    """by_post: the address changes something and is pressed, not followed."""

    title: StrOrPromise
    url: str
    by_post: bool = False


def next_steps(
    case: Case, *, stage: Stage, gates: Sequence[Gate], visits: Sequence[CaseVisit], user: User, now: datetime
) -> list[NextStep]:
    """Only what this person may do. Empty for a closed case."""
    if stage is Stage.CLOSED:
        return []
    found = [*_start(case, gates, visits, now), *_clinic(case, gates), *_times(case, stage, gates, visits)]
    return [step for capability, step in found if may(user, capability, case.site)]


Found = tuple[Capability, NextStep]


def _start(case: Case, gates: Sequence[Gate], visits: Sequence[CaseVisit], now: datetime) -> list[Found]:
    """A session of today whose gates are open beforehand can be started."""
    if shut(gates, beforehand=True):
        return []
    today = now.astimezone(case.site.zone).date()
    return [
        (
            Capability.SESSION_OPEN,
            NextStep(_("Start the session"), reverse("session_start", args=[case.pk, visit.pk]), by_post=True),
        )
        for visit in visits
        if visit.purpose == VisitPurpose.SESSION and visit.booking.wall_on == today and visit.booking.status in _HERE
    ]


def _clinic(case: Case, gates: Sequence[Gate]) -> list[Found]:
    """The shut gates that a clinician settles, in their order."""
    steps = {
        "examination": (Capability.EXAMINE_AND_DECIDE, _("Examine"), "examination"),
        "plan": (Capability.PLAN_WRITE, _("Make the plan"), "plan"),
        "questions": (Capability.ANSWERS_READ, _("Read answers and findings"), "assessment"),
        "consent": (Capability.CONSENT_READ, _("Talk, sign, countersign"), "consent"),
    }
    shut_codes = {gate.code for gate in shut(gates)}
    return [
        (capability, NextStep(title, reverse(name, args=[case.pk])))
        for code, (capability, title, name) in steps.items()
        if code in shut_codes
    ]


def _times(case: Case, stage: Stage, gates: Sequence[Gate], visits: Sequence[CaseVisit]) -> list[Found]:
    held = {visit.purpose for visit in visits if visit.booking.status in _STANDING}
    found: list[Found] = []
    consent_open = not any(gate.code == "consent" and gate.is_shut for gate in gates)
    for visit in visits:
        if visit.booking.status == Status.PROPOSED and consent_open:
            url = reverse("case_time_confirm", args=[case.pk, visit.pk])
            found.append((Capability.DIARY_BOOK, NextStep(_("Confirm the pencilled time"), url, by_post=True)))
    for purpose in _missing_times(stage, held):
        url = reverse("case_time", args=[case.pk, purpose])
        found.append((Capability.DIARY_BOOK, NextStep(_TITLES[purpose], url)))
    return found


_TITLES = {
    VisitPurpose.CONSULTATION: _("Find a time for the consultation"),
    VisitPurpose.SESSION: _("Find a time for the session"),
    VisitPurpose.REVIEW: _("Find a time for the month review"),
    VisitPurpose.PROBLEM: _("Find a time for a problem visit"),
}


def _missing_times(stage: Stage, held: set[str]) -> list[VisitPurpose]:
    early = {Stage.ENQUIRY, Stage.QUESTIONS}
    wanted: list[VisitPurpose] = []
    if stage in early and VisitPurpose.CONSULTATION not in held:
        wanted.append(VisitPurpose.CONSULTATION)
    if stage is not Stage.FOLLOWING_UP and VisitPurpose.SESSION not in held:
        wanted.append(VisitPurpose.SESSION)
    if stage is Stage.FOLLOWING_UP and VisitPurpose.REVIEW not in held:
        wanted.append(VisitPurpose.REVIEW)
    if stage in {Stage.TREATING, Stage.FOLLOWING_UP}:
        wanted.append(VisitPurpose.PROBLEM)
    return wanted

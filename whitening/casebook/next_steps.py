"""What to do next with a case, for the person who looks: the first is the page's main action."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.diary.models import COMING, Status
from whitening.casebook.gates import Gate, shut
from whitening.casebook.sheets import ToMake
from whitening.casebook.stage import OVER, Stage
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall.models import Escalation
from whitening.recall.timing import local_day, review_times

_STANDING = {Status.PROPOSED, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN, Status.FULFILLED}
_HERE = {Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}


@dataclass(frozen=True, slots=True)
class NextStep:
    """by_post: the address changes something and is pressed, not followed."""

    title: StrOrPromise
    url: str
    by_post: bool = False


Found = tuple[Capability, NextStep]


def next_steps(
    case: Case,
    *,
    stage: Stage,
    gates: Sequence[Gate],
    visits: Sequence[CaseVisit],
    sessions: Sequence[Session],
    sheets: ToMake,
    worries: Sequence[Escalation],
    has_open_questions: bool,
    may_send_result: bool,
    may_pick: Collection[VisitPurpose],
    user: User,
    now: datetime,
) -> list[NextStep]:
    """Only what this person may do. Of a closed case a sheet may still be missing or old, and an answer may worry."""
    found = [_worry(one) for one in worries]
    if stage is not _CLOSED:
        found += [*_chair(case, stage, gates, visits, sessions, now), *_clinic(case, stage, gates)]
    if stage is not _CLOSED:
        found += [*_afterwards(case, stage, sessions, now), *_times(case, stage, gates, visits, may_pick)]
        found += _questions(case, stage, coming_visit(visits, now)) if has_open_questions else []
    found += [_sheet(session, _("Make the aftercare sheet")) for session in sheets.missing]
    anew = _("Make the aftercare sheet anew and hand it over: the log has changed since")
    found += [_sheet(session, anew) for session in sheets.anew]
    if may_send_result:
        url = reverse("result_send", args=[case.pk])
        found.append((Capability.MESSAGES_SEND, NextStep(_("Send a link to the letter about the result"), url, True)))
    return [step for capability, step in found if may(user, capability, case.site)]


_CLOSED = Stage.CLOSED


def _chair(
    case: Case,
    stage: Stage,
    gates: Sequence[Gate],
    visits: Sequence[CaseVisit],
    sessions: Sequence[Session],
    now: datetime,
) -> list[Found]:
    """A session that runs is gone on with; one of today is asked about again, then started."""
    running = next((session for session in sessions if session.closed_at is None), None)
    if running is not None:
        step = NextStep(_("Go on with the session"), reverse("chairside", args=[running.pk]))
        return [(Capability.CHAIRSIDE_RECORD, step)]
    today = now.astimezone(case.site.zone).date()
    todays = next((visit for visit in visits if _is_session_of(visit, today)), None)
    if stage in OVER or todays is None or shut(gates, beforehand=True):
        return []
    still_shut = {gate.code for gate in shut(gates)}
    if "asked_again" in still_shut:
        return [(Capability.REASK, NextStep(_("Ask again today"), reverse("reask", args=[case.pk])))]
    if still_shut:
        return []
    url = reverse("session_start", args=[case.pk, todays.pk])
    return [(Capability.SESSION_OPEN, NextStep(_("Start the session"), url, by_post=True))]


def _is_session_of(visit: CaseVisit, day: date) -> bool:
    return visit.purpose == VisitPurpose.SESSION and visit.booking.wall_on == day and visit.booking.status in _HERE


def _clinic(case: Case, stage: Stage, gates: Sequence[Gate]) -> list[Found]:
    """The shut gates that a clinician settles, in the order in which it is done; nothing once all is treated."""
    if stage is Stage.FOLLOWING_UP:
        return []
    shut_codes = {gate.code for gate in shut(gates)}
    steps = [
        ("questions", Capability.ANSWERS_READ, _("Read answers and findings"), "assessment"),
        ("examination", Capability.EXAMINE_AND_DECIDE, _("Examine"), "examination"),
        ("plan", Capability.PLAN_WRITE, _("Make the plan"), "plan"),
        ("consent", Capability.CONSENT_READ, _("Talk, sign, countersign"), "consent"),
    ]
    waiting = {Stage.ENQUIRY: {"questions", "consent"}, Stage.QUESTIONS: {"consent"}}.get(stage, set())
    # Of the day's list only the news is a clinician's; going through it is the chair's step.
    news = ("asked_again", Capability.EXAMINE_AND_DECIDE, _("Decide what is new today"), "assessment")
    steps += [news for gate in shut(gates) if gate.code == "asked_again" and gate.url_name == "assessment"]
    return [
        (capability, NextStep(title, reverse(name, args=[case.pk])))
        for code, capability, title, name in steps
        if code in shut_codes - waiting
    ]


def coming_visit(visits: Sequence[CaseVisit], now: datetime) -> CaseVisit | None:
    """The next one that is not over: its page is the patient's page."""
    coming = [one for one in visits if one.booking.status in COMING and one.booking.ends_at > now]
    return min(coming, key=lambda one: one.booking.starts_at, default=None)


def _questions(case: Case, stage: Stage, visit: CaseVisit | None) -> list[Found]:
    """Open questions: asked here, answered on the tablet, or at home through the link. Some are never the desk's."""
    ask = NextStep(_("Answer the questions with the patient here"), reverse("ask", args=[case.pk]))
    found: list[Found] = [(Capability.REASK, ask)]
    # What was handed in is not asked once more on the patient's page; the rest is asked face to face.
    if visit is not None and stage is Stage.ENQUIRY:
        tablet = reverse("booking_tablet", args=[visit.booking_id])
        link = reverse("case_link", args=[case.pk])
        found.append((Capability.CONSENT_HAND_OUT, NextStep(_("Hand over the tablet for the questions"), tablet, True)))
        found.append((Capability.MESSAGES_SEND, NextStep(_("Send the link again"), link, True)))
    return found


def _afterwards(case: Case, stage: Stage, sessions: Sequence[Session], now: datetime) -> list[Found]:
    """After a session: what the patient says on the telephone, and once the colour has settled the review."""
    closed = [session for session in sessions if session.closed_at is not None]
    found: list[Found] = []
    if stage is Stage.FOLLOWING_UP and _colour_has_settled(closed, now, case):
        found.append(
            (Capability.REVIEW_RECORD, NextStep(_("Record the month review"), reverse("review", args=[case.pk])))
        )
    if closed:
        url = reverse("type_reply", args=[closed[-1].pk])
        found.append((Capability.FOLLOWUPS_WORK, NextStep(_("Type in how the patient is"), url)))
    return found


def _colour_has_settled(closed: Sequence[Session], now: datetime, case: Case) -> bool:
    """The review is refused before: whoever is offered it too early would fill it in for nothing."""
    ends = [session.closed_at for session in closed if session.closed_at is not None]
    zone = case.site.zone
    return bool(ends) and local_day(now, zone) >= local_day(review_times(max(ends), zone).due_at, zone)


def _times(
    case: Case,
    stage: Stage,
    gates: Sequence[Gate],
    visits: Sequence[CaseVisit],
    may_pick: Collection[VisitPurpose],
) -> list[Found]:
    held = {visit.purpose for visit in visits if visit.booking.status in _STANDING}
    found: list[Found] = []
    consent_open = not any(gate.code == "consent" and gate.is_shut for gate in gates)
    if consent_open:
        found += _confirming(case, visits)
    missing = _missing_times(stage, held, visits)
    for purpose in missing:
        url = reverse("case_time", args=[case.pk, purpose])
        found.append((Capability.DIARY_BOOK, NextStep(_TITLES[purpose], url)))
        # A session that is not agreed yet is only pencilled, and that is never the patient's own pick.
        if purpose in may_pick and (purpose != VisitPurpose.SESSION or consent_open):
            link = reverse("case_pick", args=[case.pk, purpose])
            found.append((Capability.MESSAGES_SEND, NextStep(_LINKS[purpose], link, by_post=True)))
    if VisitPurpose.SESSION in missing:
        url = reverse("case_course", args=[case.pk])
        found.append((Capability.DIARY_BOOK, NextStep(_("Find the whole course"), url)))
    return found


def _confirming(case: Case, visits: Sequence[CaseVisit]) -> list[Found]:
    """One press for all sessions; a review that is pencilled behind them follows the last of them."""
    found = [one for one in visits if one.booking.status == Status.PROPOSED and one.purpose == VisitPurpose.SESSION]
    if not found:
        return []
    url = reverse("case_time_confirm", args=[case.pk, found[0].pk])
    step = NextStep(_("Confirm the pencilled time"), url, by_post=True)
    if len(found) > 1:
        step = NextStep(_("Confirm the pencilled times"), reverse("case_times_confirm", args=[case.pk]), by_post=True)
    return [(Capability.DIARY_BOOK, step)]


_TITLES = {
    VisitPurpose.CONSULTATION: _("Find a time for the consultation"),
    VisitPurpose.SESSION: _("Find a time for the session"),
    VisitPurpose.REVIEW: _("Find a time for the month review"),
    VisitPurpose.PROBLEM: _("Find a time for a problem visit"),
    VisitPurpose.CLEANING: _("Find a time for the scale and polish"),
    VisitPurpose.IMPRESSIONS: _("Find a time for impressions or a scan"),
    VisitPurpose.FITTING: _("Find a time for the tray fitting"),
}
_LINKS = {
    VisitPurpose.CONSULTATION: _("Send a link to pick the consultation’s time"),
    VisitPurpose.SESSION: _("Send a link to pick the session’s time"),
    VisitPurpose.REVIEW: _("Send a link to pick the month review’s time"),
    VisitPurpose.PROBLEM: _("Send a link to pick a problem visit’s time"),
    VisitPurpose.CLEANING: _("Send a link to pick the scale and polish’s time"),
    VisitPurpose.IMPRESSIONS: _("Send a link to pick the time for impressions or a scan"),
    VisitPurpose.FITTING: _("Send a link to pick the tray fitting’s time"),
}


def _missing_times(stage: Stage, held: set[str], visits: Sequence[CaseVisit]) -> list[VisitPurpose]:
    early = {Stage.ENQUIRY, Stage.QUESTIONS}
    wanted: list[VisitPurpose] = []
    if stage in early and VisitPurpose.CONSULTATION not in held:
        wanted.append(VisitPurpose.CONSULTATION)
    if _needs_session(stage, held, visits):
        wanted.append(VisitPurpose.SESSION)
    if stage is Stage.FOLLOWING_UP and VisitPurpose.REVIEW not in held:
        wanted.append(VisitPurpose.REVIEW)
    if stage in {Stage.TREATING, Stage.FOLLOWING_UP}:
        wanted.append(VisitPurpose.PROBLEM)
    return wanted


def _needs_session(stage: Stage, held: set[str], visits: Sequence[CaseVisit]) -> bool:
    """Before the first session: none is held. Between sessions: the next one is not."""
    if stage is Stage.FOLLOWING_UP:
        return False
    if stage is not Stage.TREATING:
        return VisitPurpose.SESSION not in held
    coming = _STANDING - {Status.FULFILLED}
    return not any(visit.purpose == VisitPurpose.SESSION and visit.booking.status in coming for visit in visits)


def _worry(escalation: Escalation) -> Found:
    """Before anything else: somebody said that something hurts."""
    url = reverse("escalation", args=[escalation.pk])
    return Capability.REPLIES_READ, NextStep(_("See to what the patient said"), url)


def _sheet(session: Session, title: StrOrPromise) -> Found:
    return Capability.DOCUMENTS_READ, NextStep(title, reverse("aftercare_make", args=[session.pk]), by_post=True)

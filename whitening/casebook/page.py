"""Everything that the page of a case shows, read once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.diary.models import Status
from clinic.documents.models import IssuedDocument
from clinic.messages.models import DueMessage
from clinic.trail import verbs
from clinic.trail.models import TrailEntry
from whitening.casebook.facts import gates_of, stage_of
from whitening.casebook.gates import Gate
from whitening.casebook.next_steps import NextStep, next_steps
from whitening.casebook.stage import Stage
from whitening.cases.access import plan_in_force
from whitening.cases.ladder import Ladder, lay_out
from whitening.cases.models import Case, CaseVisit, Plan, ShadeReading, VisitPurpose
from whitening.screening.grades import Profession
from whitening.shade.tabs import CLASSICAL_16

TIMELINE_MOST = 200


@dataclass(frozen=True, slots=True)
class Entry:
    at: datetime
    actor_name: str
    sentence: StrOrPromise


@dataclass(frozen=True, slots=True)
class CasePage:
    stage: Stage
    plan: Plan | None
    gates: Sequence[Gate]
    steps: Sequence[NextStep]
    visits: Sequence[CaseVisit]
    ladder: Ladder
    readings: Sequence[ShadeReading]
    documents: Sequence[IssuedDocument]
    messages: Sequence[DueMessage]
    timeline: Sequence[Entry]


def case_page(case: Case, *, user: User, now: datetime) -> CasePage:
    """A number of queries that does not grow with the length of the case."""
    visits = list(case.visits.select_related("booking__visit_type", "booking__site"))
    gates = gates_of(case, day=session_day(case, visits, now), carried_out_by=_who_treats(visits))
    readings = list(case.shades.order_by("read_at", "pk"))
    stage = stage_of(case)
    return CasePage(
        stage=stage,
        plan=plan_in_force(case),
        gates=gates,
        steps=next_steps(case, stage=stage, gates=gates, visits=visits, user=user, now=now),
        visits=visits,
        ladder=lay_out(tabs=CLASSICAL_16.tabs, readings=readings),
        readings=readings,
        documents=_documents(case, user),
        messages=list(_messages(case)),
        timeline=timeline(case),
    )


def session_day(case: Case, visits: Sequence[CaseVisit], now: datetime) -> date:
    """The local day the gates are asked about: that of the next session, else today."""
    coming = [
        visit.booking.wall_on
        for visit in visits
        if visit.purpose == VisitPurpose.SESSION
        and visit.booking.status in {Status.PROPOSED, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}
    ]
    today = now.astimezone(case.site.zone).date()
    return max(today, min(coming)) if coming else today


def timeline(case: Case) -> list[Entry]:
    """The trail of this patient since the case was opened, newest first: sentences without any clinical value."""
    rows = TrailEntry.objects.of_patient(case.patient_id).order_by("-pk")[:TIMELINE_MOST]
    patient = _("the patient")
    entries = [
        Entry(
            row.at + timedelta(seconds=row.clock_shift_seconds),
            patient if row.actor_kind == "patient" else row.actor_name,
            verbs.sentence(row.verb),
        )
        for row in rows
    ]
    first_at = case.opened_at - timedelta(minutes=1)
    return sorted((one for one in entries if one.at >= first_at), key=lambda one: one.at, reverse=True)


def _who_treats(visits: Sequence[CaseVisit]) -> Profession | None:
    """The profession of whoever is booked as clinician for the next session."""
    for visit in visits:
        if visit.purpose == VisitPurpose.SESSION:
            claim = visit.booking.claims.filter(need="clinician").select_related("resource__person").first()
            if claim is not None and claim.resource.person is not None:
                return Profession(claim.resource.person.profession)
    return None


def _documents(case: Case, user: User) -> list[IssuedDocument]:
    """Clinical papers only for those who may read them; the others are not even listed."""
    rows = IssuedDocument.objects.visible_to(user).filter(patient=case.patient, issued_at__gte=case.opened_at)
    return list(rows.order_by("-issued_at", "-pk"))


def _messages(case: Case) -> Sequence[DueMessage]:
    rows = DueMessage.objects.filter(patient=case.patient, planned_at__gte=case.opened_at)
    return rows.order_by("-due_at", "-pk")[:50]

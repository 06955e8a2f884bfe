"""Everything that the page of a case shows, read once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.diary.actions.stepping import RELEASED
from clinic.diary.models import Status
from clinic.documents.models import IncomingPaper, IssuedDocument
from clinic.documents.sections import SHOWN_WITH, CameIn, came_in, readable
from clinic.messages import saying
from clinic.patients.person import of_person
from whitening.casebook import reading, sheets
from whitening.casebook.facts import Ask, ask_of, facts_of_many, stage_of
from whitening.casebook.gates import Gate, GateFacts, evaluate
from whitening.casebook.next_steps import NextStep, next_steps
from whitening.casebook.patient_limits import may_pick
from whitening.casebook.stage import OVER, Stage, waiting_until
from whitening.casebook.subjects import names
from whitening.casebook.timeline import Day, newest, timeline
from whitening.casebook.to_print import ToPrint, to_print
from whitening.cases.access import plan_in_force
from whitening.cases.ladder import Ladder, lay_out
from whitening.cases.models import Case, CaseVisit, Moment, Plan, ShadeReading, VisitPurpose
from whitening.chairside.models import Session
from whitening.chairside.protocol.events import Event
from whitening.chairside.told import Shade, logs_of, standing_shades
from whitening.consent.models import PaperReading
from whitening.recall.models import Escalation, Review
from whitening.recall.result_link import OPEN_FOR
from whitening.screening.reading import questions_to_ask
from whitening.shade.tabs import CLASSICAL_16

MESSAGES_MOST = 50
_COMING = {Status.PROPOSED, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}


@dataclass(frozen=True, slots=True)
class CasePage:
    stage: Stage
    plan: Plan | None
    gates: Sequence[Gate]
    # The local day the gates were asked about, and whether that is today.
    gates_on: date
    is_gates_day: bool
    waits_until: date | None
    # Written down in one press, by whoever is told: nobody has to open the consent for it.
    may_withdraw_here: bool
    steps: Sequence[NextStep]
    visits: Sequence[CaseVisit]
    ladder: Ladder
    review: Review | None
    documents: Sequence[IssuedDocument]
    to_print: Sequence[ToPrint]
    came_in: CameIn
    may_file: bool
    messages: Sequence[saying.Line]
    timeline: Sequence[Day]

    @property
    def newest(self) -> Sequence[Day]:
        return self.timeline[: newest(self.timeline)]

    @property
    def earlier(self) -> Sequence[Day]:
        return self.timeline[newest(self.timeline) :]


def case_page(case: Case, *, user: User, now: datetime) -> CasePage:
    """A number of queries that does not grow with the length of the case."""
    visits = list(case.visits.select_related("booking__visit_type", "booking__site"))
    today = now.astimezone(case.site.zone).date()
    facts = _facts(case, visits, today)
    gates, stage = evaluate(facts), stage_of(case)
    sessions = list(case.sessions.order_by("number"))
    runs = any(session.closed_at is None for session in sessions)
    # In the chair the gates are settled, but for two: a consent that is withdrawn meanwhile has to be seen here too,
    # and what was new on the day is decided from here.
    told_in_chair = {"consent"} | ({"asked_again"} if facts.new_to_decide else set())
    still_told = [gate for gate in gates if gate.code in told_in_chair and gate.is_shut] if runs else gates
    shown = () if stage in OVER else still_told
    documents, logs = _documents(case), logs_of(case)
    readings = _readings(case, sessions, logs)
    review = Review.objects.filter(case=case).select_related("shade", "reviewed_by").first()
    return CasePage(
        stage=stage,
        plan=plan_in_force(case),
        gates=[_for_reader(gate, case, user) for gate in shown],
        gates_on=facts.today,
        is_gates_day=facts.today == today,
        may_withdraw_here=_can_be_withdrawn(case, facts) and may(user, Capability.CONSENT_WITHDRAW, case.site),
        waits_until=None if stage in OVER else _waits_until(case, facts, today),
        steps=next_steps(
            case,
            stage=stage,
            gates=gates,
            visits=visits,
            sessions=sessions,
            sheets=sheets.to_make(sessions, documents, logs, now),
            worries=list(Escalation.objects.open().filter(case=case)[:1]),
            may_pick=may_pick(case) if stage is not Stage.CLOSED else frozenset(),
            may_send_result=review is not None and now < review.reviewed_at + OPEN_FOR,
            has_open_questions=stage not in OVER and bool(questions_to_ask(case, user=user)[0]),
            user=user,
            now=now,
        ),
        # A time that was only held and let go was nobody's visit.
        visits=[visit for visit in visits if visit.booking.cancelled_by != RELEASED],
        ladder=lay_out(tabs=CLASSICAL_16.tabs, readings=readings),
        review=review,
        # What somebody may not read is not even listed for them.
        documents=[one for one in documents if readable(one, user)],
        to_print=to_print(
            case,
            sessions=sessions,
            logs=logs,
            documents=documents,
            is_reviewed=review is not None,
            is_answered=facts.has_answers,
            user=user,
        ),
        came_in=came_in(IncomingPaper.objects.about(("case", case.pk)).select_related(*SHOWN_WITH), user),
        may_file=may(user, Capability.PAPERS_FILE, case.site),
        messages=_messages(case),
        timeline=timeline(
            case, user=user, names=names(case, visits=visits, documents=documents), shades=readings, logs=logs
        ),
    )


def _waits_until(case: Case, facts: GateFacts, today: date) -> date | None:
    return waiting_until(deferred_until=case.deferred_until, not_before=facts.not_before, today=today)


# Which right opens the page behind a gate: for others the gate stands without its link.
_BEHIND = {
    "assessment": Capability.ANSWERS_READ,
    "reask": Capability.REASK,
    "examination": Capability.EXAMINE_AND_DECIDE,
    "plan": Capability.PLAN_WRITE,
    "consent": Capability.CONSENT_READ,
    "materials": Capability.MATERIALS_READ,
    "booking_move": Capability.DIARY_BOOK,
}


def _for_reader(gate: Gate, case: Case, user: User) -> Gate:
    capability = _BEHIND.get(gate.url_name)
    return gate if capability is None or may(user, capability, case.site) else replace(gate, url_name="")


def _can_be_withdrawn(case: Case, facts: GateFacts) -> bool:
    """Also while the plan was changed since, and while a signed paper still waits for its second person."""
    stands = facts.signed_on is not None and not facts.withdrawn
    return stands or PaperReading.objects.waiting().filter(text__case=case).exists()


def _facts(case: Case, visits: Sequence[CaseVisit], today: date) -> GateFacts:
    """The gates are asked about the next session's day; without one, about today."""
    session = next_session(visits, today)
    if session is None:
        return facts_of_many([Ask(case_id=case.pk, day=today, carried_out_by=None)])[0]
    booked = reading.clinicians([session.booking]).get(session.booking_id)
    return facts_of_many([ask_of(case_id=case.pk, booking=session.booking, booked=booked)])[0]


def next_session(visits: Sequence[CaseVisit], today: date) -> CaseVisit | None:
    coming = [
        visit
        for visit in visits
        if visit.purpose == VisitPurpose.SESSION and visit.booking.status in _COMING and visit.booking.wall_on >= today
    ]
    return min(coming, key=lambda visit: visit.booking.starts_at, default=None)


def _readings(case: Case, sessions: Sequence[Session], logs: Mapping[int, Sequence[Event]]) -> list[ShadeReading]:
    """Those of the case, and of a session that still runs what was read at the chair so far."""
    readings = list(case.shades.standing().order_by("read_at", "pk"))
    for session in sessions:
        if session.closed_at is None:
            readings += [_as_reading(case, shade) for shade in standing_shades(logs.get(session.pk, ()))]
    return readings


def _as_reading(case: Case, shade: Shade) -> ShadeReading:
    """As closing the session would keep it."""
    provisional = shade.moment == Moment.FINISH
    return ShadeReading(
        case=case, moment=shade.moment, tab=shade.tab, provisional=provisional, read_at=shade.at, read_by=shade.by
    )


def _documents(case: Case) -> list[IssuedDocument]:
    rows = IssuedDocument.objects.filter(of_person(case.patient), site=case.site, issued_at__gte=case.opened_at)
    return list(rows.select_related("site").order_by("-issued_at", "-pk"))


def _messages(case: Case) -> list[saying.Line]:
    """What the patient is told; what colleagues are told about an answer stands on the page of that answer."""
    return saying.lines(saying.of_patient(case.patient).filter(planned_at__gte=case.opened_at)[:MESSAGES_MOST])

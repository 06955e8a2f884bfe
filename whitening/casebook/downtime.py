"""The downtime pack: what a site works from on paper for a day, printed before it and not kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import day_words
from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, may, require
from clinic.diary import papers
from clinic.diary.models import COMING, Booking, Status
from clinic.diary.printing import Line, read_lines
from clinic.documents import kinds
from clinic.documents.actions import Prepared, print_out
from clinic.patients.models import Patient
from clinic.trail.access import note_read
from clinic.trail.actor import Actor
from whitening.casebook import reading
from whitening.casebook.facts import ask_of, facts_of_many
from whitening.casebook.gates import evaluate
from whitening.casebook.session_card import Card, card_of, findings_of, items_of
from whitening.cases.access import plan_in_force
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.screening.question_sheet import lines, print_questions
from whitening.screening.questions import questionnaire

KIND = "downtime_pack"
# Further ahead nobody prints what will have changed by then; common practice, no source.
LOOK_AHEAD = timedelta(days=7)
READS_FINDINGS = (Capability.ANSWERS_READ, Capability.CLINICAL_DOCUMENTS_READ)


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the list, and what is needed to reach the patient without the program."""

    line: Line
    born_on: date
    phone: str


def next_day_with_visits(site: Site, *, today: date) -> date:
    """For which day a pack is wanted next: the first one after today on which somebody comes, at most a week on."""
    days = {"wall_on__gt": today, "wall_on__lte": today + LOOK_AHEAD}
    rows = Booking.objects.filter(site=site, status__in=COMING, **days).exclude(status=Status.PENDING)
    found = rows.order_by("wall_on").values_list("wall_on", flat=True).first()
    return found or today + timedelta(days=1)


def print_pack(*, site: Site, day: date, user: User, actor: Actor, now: datetime, large_print: bool) -> Prepared:
    """List, one card for each whitening session, blank questions. Findings only for whoever may read them."""
    require(user, Capability.PATIENTS_READ, site)
    with_findings = all(may(user, one, site) for one in READS_FINDINGS)
    listed = read_lines(site=site, day=day, user=user, with_names=True, now=now)
    cards = read_cards(site=site, day=day, listed=listed, with_findings=with_findings, now=now)
    printed = print_out(
        kind=KIND,
        site=site,
        context={
            "day": day,
            "printed_at": now,
            "rows": _rows(listed),
            "cards": cards,
            "with_findings": with_findings,
            "lines": lines,
            "version": questionnaire().version,
        },
        language=user.language,
        title=_("Downtime pack, %(day)s") % {"day": day_words(day)},
        subject=("diary", day.isoformat()),
        actor=actor,
        now=now,
        large_print=large_print,
    )
    for card in cards:
        note_read(
            actor=actor,
            what="casebook.session_card",
            subject=("case", card.case_id),
            patient_id=card.patient.pk,
            site_id=site.pk,
        )
    return printed


def _rows(listed: Sequence[Line]) -> list[Row]:
    """The diary leaves telephone numbers out; they are read here for everybody at once."""
    patients = Patient.objects.in_bulk({line.booking.patient_id for line in listed})
    rows = []
    for line in listed:
        patient = patients[line.booking.patient_id]
        rows.append(Row(line, patient.birth_on, patient.phone.as_international if patient.phone else ""))
    return rows


def read_cards(*, site: Site, day: date, listed: Sequence[Line], with_findings: bool, now: datetime) -> list[Card]:
    """In the order of the list, of those who are still to come."""
    coming = {line.booking.pk: line for line in listed if line.booking.status in COMING}
    visits = CaseVisit.objects.filter(
        booking__in=coming, purpose=VisitPurpose.SESSION, case__closed_at=None
    ).select_related("booking__site", "booking__patient")
    of_booking: Mapping[int, CaseVisit] = {visit.booking_id: visit for visit in visits}
    chosen = [of_booking[pk] for pk in coming if pk in of_booking]
    who = reading.clinicians([visit.booking for visit in chosen])
    asks = [ask_of(case_id=visit.case_id, booking=visit.booking, booked=who.get(visit.booking_id)) for visit in chosen]
    cases = reading.for_gates([visit.case_id for visit in chosen])
    return [
        card_of(
            visit=visit,
            line=coming[visit.booking_id],
            plan=plan_in_force(cases[visit.case_id]),
            gates=evaluate(facts),
            items=items_of(cases[visit.case_id] if with_findings else None),
            findings=findings_of(cases[visit.case_id], ask) if with_findings else (),
        )
        for visit, ask, facts in zip(chosen, asks, facts_of_many(asks), strict=True)
    ]


def _questions_of_day(*, site: Site, day: date, user: User, actor: Actor, now: datetime, large_print: bool) -> Prepared:
    return print_questions(
        site=site,
        language=user.language,
        subject=("diary", day.isoformat()),
        actor=actor,
        now=now,
        large_print=large_print,
    )


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=gettext_lazy("downtime pack"),
            clinical=True,
            template="documents/downtime_pack.html",
            version=1,
            kept=False,
        )
    )
    papers.register_of_day(
        papers.DayPaper(code="downtime", word=gettext_lazy("Downtime pack (PDF)"), draw=print_pack, position=10)
    )
    papers.register_of_day(
        papers.DayPaper(code="questions", word=gettext_lazy("Blank questions (PDF)"), draw=_questions_of_day)
    )

"""A practice with a diary, and cases lived in it through the program's own actions. Invented throughout."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from clinic.diary import actions as diary
from clinic.diary.actions.setting_up import add_resource, add_standard_visits, set_hours
from clinic.diary.models import Booking, Resource, ResourceKind
from clinic.diary.openings import find
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM, Actor
from tests.cast import NOW, Cast, actor_of
from tests.remembered import remembered
from tests.whitening.chairside import chairs
from tests.whitening.screening.someone import IN_PRIVATE_WELL
from whitening.casebook.actions import VisitWish, book_visit, confirm_pencilled, wanted_for
from whitening.casebook.actions.sessions import start_session
from whitening.cases import actions as cases
from whitening.cases.actions import open_case
from whitening.cases.models import Case, CaseVisit, Isolation, PlannedLight, VisitPurpose
from whitening.chairside.actions import confirm_identity
from whitening.chairside.models import Session
from whitening.consent.actions import SignatureInput, TalkDetails, countersign, frozen_text, record_talk, sign
from whitening.consent.models import PhotoUse
from whitening.consent.reading import talk_about
from whitening.screening.actions import PlanDetails, answer_here, ask_again, examine, hand_in, keep_answer, make_plan
from whitening.screening.answers import from_data
from whitening.screening.examination import Examination, Gums, Item
from whitening.screening.grades import Profession
from whitening.screening.models import Source
from whitening.screening.questions import Kind, Question, next_question, open_questions
from whitening.screening.reading import answers_of
from whitening.screening.reask import reask_items

ROOMS = ("Willow", "Alder")
# The Friday before NOW, a Tuesday: calls of tests that want a session today. Monday is for consultations.
CALLED = NOW - timedelta(days=4)
MONDAY = NOW - timedelta(days=1)
GOOD = {"medicines": ["none"], "sensitivity": ["0"], "last_cleaning": ["under_6_months"], "whitening_now": ["no"]}
STROKES = [[[120, 200, 0], [180, 90, 120], [230, 210, 240], [300, 120, 380], [420, 190, 560]]]


@remembered
def open_surgery(cast: Cast) -> None:
    """Two rooms, a dentist, an assistant, a light that is checked, gel in date; weekdays 8:30 to 17:30."""
    if Resource.objects.filter(site=cast.fernbrook, kind=ResourceKind.ROOM).exists():
        return
    add_standard_visits(site=cast.fernbrook, actor=SYSTEM)
    chairs.a_batch(cast)
    chairs.a_light(cast)
    wanted: list[dict[str, object]] = [{"kind": ResourceKind.ROOM, "name": name} for name in ROOMS]
    people = (cast.clinician, cast.assistant)
    wanted += [{"kind": ResourceKind.PERSON, "name": person.name, "person": person} for person in people]
    for values in wanted:
        add_resource(site=cast.fernbrook, user=cast.manager, actor=SYSTEM, **values)  # type: ignore[arg-type]
    for resource in Resource.objects.filter(site=cast.fernbrook):
        hours(cast, resource)


def hours(cast: Cast, resource: Resource) -> None:
    set_hours(
        resource=resource,
        weekdays=range(5),
        from_time=time(8, 30),
        to_time=time(17, 30),
        from_on=date(2026, 1, 1),
        user=cast.manager,
        actor=SYSTEM,
    )


@dataclass(slots=True)
class Lived:
    """One case, and its visits as they are booked."""

    cast: Cast
    case: Case
    consultation: CaseVisit | None = None
    session: CaseVisit | None = None

    @property
    def themselves(self) -> Actor:
        return Actor(kind="patient", id=str(self.case.patient_id), name=self.case.patient.name)


def called(cast: Cast, *, name: str = "", at: datetime = CALLED) -> Lived:
    """On the telephone: the cast's patient, or (by name) somebody new; a case is opened."""
    open_surgery(cast)
    patient = _registered(cast, name, at) if name else cast.patient
    desk = cast.desk
    wishes = "A shade or two lighter."
    case = open_case(patient=patient, wishes=wishes, expected_cycles=4, user=desk, actor=actor_of(desk), now=at)
    return Lived(cast, case)


def _registered(cast: Cast, name: str, at: datetime) -> Patient:
    details = Details(name=name, birth_on=date(1990, 5, 17), email="somebody@example.org")
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=actor_of(cast.desk), now=at)


def book(lived: Lived, purpose: VisitPurpose, *, earliest_at: datetime, at: datetime = CALLED) -> CaseVisit:
    """The first opening from that moment on."""
    site = lived.case.site
    latest_at = earliest_at + timedelta(days=14)
    wanted = wanted_for(lived.case, purpose)
    opening = find(site=site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at, limit=1).found[0]
    wish = VisitWish(purpose, opening.start_at)
    return book_visit(case=lived.case, wish=wish, actor=actor_of(lived.cast.desk), now=at)


def put_off(cast: Cast, case: Case, until: date) -> Case:
    """By the dentist, today."""
    dentist, stands = cast.clinician, Case.objects.get(pk=case.pk)
    return cases.put_off(
        case=stands,
        until=until,
        reason="Aphthous ulcers: look again first.",
        version=stands.version,
        user=dentist,
        actor=actor_of(dentist),
        now=NOW,
    )


def answer(lived: Lived, *, at: datetime = CALLED, instead: dict[str, list[str]] | None = None) -> None:
    """Every question that applies, in order, and handed in."""
    given = GOOD | (instead or {})
    question: Question | None = next_question({})
    while question is not None:
        raw = given.get(question.id, ["none"] if question.kind is Kind.SEVERAL else ["no"])
        draft = keep_answer(case=lived.case, question=question, raw=raw, now=at)
        question = next_question(from_data(draft.values))
    hand_in(case=lived.case, source=Source.LINK, language="en", actor=lived.themselves, now=at)


@remembered
def with_answers(cast: Cast, *, name: str = "", instead: dict[str, list[str]] | None = None) -> Lived:
    """Consultation booked for Monday, a session pencilled for today, questions answered."""
    lived = called(cast, name=name)
    lived.consultation = book(lived, VisitPurpose.CONSULTATION, earliest_at=MONDAY)
    lived.session = book(lived, VisitPurpose.SESSION, earliest_at=NOW + timedelta(hours=1))
    answer(lived, instead=instead)
    return lived


def asked_in_private(lived: Lived, *, at: datetime = MONDAY) -> None:
    """Face to face, by the dentist: nothing to worry about."""
    dentist, held = lived.cast.clinician, answers_of(lived.case)
    waiting = {one.id for one in open_questions(held=held.values if held else {}) if one.private}
    if values := {name: value for name, value in IN_PRIVATE_WELL.items() if name in waiting}:
        answer_here(case=lived.case, values=values, source=Source.CHAIR, user=dentist, actor=actor_of(dentist), now=at)


def examined(lived: Lived, *, at: datetime = MONDAY, gums: Gums | None = None) -> None:
    asked_in_private(lived, at=at)
    dentist = lived.cast.clinician
    found = Examination(
        examined_at=at,
        examined_on=at.date(),
        profession=Profession(dentist.profession),
        looked_at=frozenset(Item),
        gums=gums or Gums(),
        cleaned_on=at.date() - timedelta(days=30),
    )
    examine(case=lived.case, examination=found, note="", user=dentist, actor=actor_of(dentist), now=at)


def planned(lived: Lived, *, at: datetime = MONDAY, **changed: object) -> None:
    dentist = lived.cast.clinician
    fields: dict[str, object] = {
        "product": chairs.a_gel(),
        "upper_arch": True,
        "lower_arch": True,
        "teeth_left_out": (),
        "sessions": 1,
        "cycles_per_session": 4,
        "minutes_per_cycle": 15,
        "least_days_between": 7,
        "light": PlannedLight.NONE,
        "isolation": Isolation.RESIN_BARRIER,
        "fee": Decimal(390),
        "expectation": "A few steps lighter are likely; nobody can promise how many.",
    }
    details = PlanDetails(**(fields | changed))  # type: ignore[arg-type]  # every test names what differs
    make_plan(case=lived.case, details=details, user=dentist, actor=actor_of(dentist), now=at)


def signed(lived: Lived, *, at: datetime = MONDAY) -> None:
    """Talked through, signed by the patient, countersigned."""
    talked_and_signed(lived, at=at)
    dentist = lived.cast.clinician
    countersign(case=lived.case, user=dentist, actor=actor_of(dentist), now=at)


def talked_and_signed(lived: Lived, *, at: datetime = MONDAY) -> None:
    case, dentist = lived.case, lived.cast.clinician
    talk = TalkDetails(can_decide=True, what_matters="That it looks natural.")
    record_talk(case=case, details=talk, user=dentist, actor=actor_of(dentist), now=at)
    plan = case.plans.select_related("planned_by", "prescribed_by", "product").order_by("-version")[0]
    about = talk_about(plan)
    assert about is not None
    given = SignatureInput(
        name=case.patient.name,
        declared=True,
        seen_sha256=frozen_text(case=case, plan=plan, talk=about, now=at).sha256,
        device="tablet or computer",
        strokes=STROKES,
        photographs={use: use == PhotoUse.RECORD for use in PhotoUse},
    )
    sign(case=case, given=given, actor=lived.themselves, now=at)


@remembered
def agreed(cast: Cast, *, instead: dict[str, list[str]] | None = None) -> Lived:
    """Examined, planned, signed and countersigned on Monday; the session of today is confirmed."""
    lived = with_answers(cast, instead=instead)
    examined(lived)
    planned(lived)
    signed(lived)
    confirmed(lived)
    return lived


def confirmed(lived: Lived) -> None:
    assert lived.session is not None
    confirm_pencilled(case=lived.case, visit=lived.session, actor=actor_of(lived.cast.desk), now=MONDAY)
    lived.session.refresh_from_db()


def here(lived: Lived, *, at: datetime = NOW) -> None:
    """Arrived, recognised, asked again: the gates of the day."""
    assert lived.session is not None
    nurse = lived.cast.assistant
    diary.arrive(booking=fresh(lived.session), actor=actor_of(lived.cast.desk), now=at)
    confirm_identity(case=lived.case, user=nurse, actor=actor_of(nurse), now=at)
    answers = answers_of(lived.case)
    items = reask_items(answers) if answers else ()
    ask_again(
        case=lived.case,
        shown=[item.id for item in items],
        replies={item.id: item.usual for item in items},
        user=nurse,
        actor=actor_of(nurse),
        now=at,
    )


def fresh(visit: CaseVisit) -> Booking:
    return Booking.objects.select_related("site", "patient", "visit_type").get(pk=visit.booking_id)


def started(lived: Lived, *, at: datetime = NOW) -> Session:
    assert lived.session is not None
    dentist = lived.cast.clinician
    lived.session.booking = fresh(lived.session)
    return start_session(case=lived.case, visit=lived.session, user=dentist, actor=actor_of(dentist), now=at)

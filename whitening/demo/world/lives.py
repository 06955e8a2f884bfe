"""One case lived through the program's own actions, step by step, at moments of the past or of the days ahead."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

from clinic.diary import actions as diary
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking
from clinic.diary.openings import find
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from whitening.casebook.actions import VisitWish, book_visit, confirm_pencilled, wanted_for
from whitening.casebook.actions.sessions import start_session
from whitening.cases.actions import open_case
from whitening.cases.models import Case, CaseVisit, Isolation, PlannedLight, VisitPurpose
from whitening.chairside.actions import confirm_identity
from whitening.chairside.models import Session
from whitening.consent.actions import SignatureInput, TalkDetails, countersign, frozen_text, record_talk, sign
from whitening.consent.models import PhotoUse
from whitening.consent.reading import talk_about
from whitening.demo.world.passing import living_at
from whitening.demo.world.people import Invented
from whitening.demo.world.practice import House
from whitening.screening.actions import PlanDetails, answer_here, ask_again, examine, hand_in, keep_answer, make_plan
from whitening.screening.answers import from_data
from whitening.screening.examination import Examination, Gums, Item
from whitening.screening.grades import Profession
from whitening.screening.models import Source
from whitening.screening.questions import Kind, Question, next_question
from whitening.screening.reading import answers_of
from whitening.screening.reask import reask_items
from whitening.shade.tabs import TABS

SIGNATURE = [[[120, 200, 0], [180, 90, 120], [230, 210, 240], [300, 120, 380], [420, 190, 560]]]
_IN_PRIVATE = {"acid_in_mouth": "no", "hoped_for": "lighter", "look_in_the_way": "no", "look_on_mind": "no"}
_GOOD = {"medicines": ["none"], "sensitivity": ["0"], "last_cleaning": ["under_6_months"], "whitening_now": ["no"]}


@dataclass(slots=True)
class Life:
    """One patient on the way through a case. Everything is done at `now`, which only goes forward."""

    house: House
    random: Random
    invented: Invented
    now: datetime
    patient: Patient
    case: Case

    @property
    def themselves(self) -> Actor:
        return Actor(kind="patient", id=str(self.patient.pk), name=self.patient.name)

    def later(self, **gap: int) -> datetime:
        self.now += timedelta(**gap)
        return self.now

    def at(self, day: date, hour: time) -> datetime:
        self.now = max(self.now, instant(day, hour, self.house.site.zone))
        return self.now


def call(house: House, random: Random, invented: Invented, *, now: datetime) -> Life:
    """The phone call: registered, case opened."""
    desk = house.one("desk")
    details = Details(
        name=invented.name,
        birth_on=invented.birth_on,
        email=invented.email,
        phone=invented.phone,
        language=invented.language,
        address=invented.address,
        allergies=invented.allergies,
        channel=invented.channel,
    )
    with living_at(now):
        patient = register_patient(site=house.site, details=details, user=desk, actor=desk.actor, now=now)
        case = open_case(
            patient=patient, wishes=invented.wishes, expected_cycles=4, user=desk, actor=desk.actor, now=now
        )
    return Life(house, random, invented, now, patient, case)


def book(life: Life, purpose: VisitPurpose, *, earliest_at: datetime) -> CaseVisit | None:
    """The first opening from that moment on; None where the diary is full for a fortnight."""
    desk = life.house.one("desk")
    with living_at(life.now):
        wanted = wanted_for(life.case, purpose)
        found = find(
            site=life.house.site,
            wanted=wanted,
            earliest_at=max(earliest_at, life.now),
            latest_at=max(earliest_at, life.now) + timedelta(days=14),
            limit=3,
        ).found
        if not found:
            return None
        chosen = life.random.choice(found)
        return book_visit(case=life.case, wish=VisitWish(purpose, chosen.start_at), actor=desk.actor, now=life.now)


def answer(life: Life, *, instead: dict[str, list[str]] | None = None) -> None:
    """Answers every question that applies, in order, and hands them in."""
    given = _GOOD | (instead or {})
    with living_at(life.now):
        question: Question | None = next_question({})
        while question is not None:
            raw = given.get(question.id, ["none"] if question.kind is Kind.SEVERAL else ["no"])
            draft = keep_answer(case=life.case, question=question, raw=raw, now=life.now)
            question = next_question(from_data(draft.values))
        hand_in(case=life.case, source=Source.LINK, language="en", actor=life.themselves, now=life.now)


def consult(
    life: Life,
    visit: CaseVisit,
    *,
    light: PlannedLight = PlannedLight.NONE,
    cycles: int = 4,
    interpreter: Mapping[str, Any] | None = None,
    signing: Callable[[Life], None] | None = None,
) -> None:
    """Examination, plan, talk, signature on the tablet or another one, countersignature; the consultation is over."""
    dentist = life.house.one("dentist")
    life.now = max(life.now, visit.booking.starts_at)
    with living_at(life.now):
        diary.arrive(booking=fresh(visit), actor=life.house.one("desk").actor, now=life.now)
        diary.check_in(booking=fresh(visit), actor=dentist.actor, now=life.now)
        _ask_in_private(life)
        _examine(life)
        _plan(life, light=light, cycles=cycles)
        talk = TalkDetails(can_decide=True, what_matters="That it looks natural.", **interpreter or {})
        record_talk(case=life.case, details=talk, user=dentist, actor=dentist.actor, now=life.now)
    life.later(minutes=6)
    with living_at(life.now):
        (signing or sign_on_tablet)(life)
        countersign(case=life.case, user=dentist, actor=dentist.actor, now=life.now)
        diary.finish(booking=fresh(visit), actor=dentist.actor, now=life.now)


def confirm(life: Life, visit: CaseVisit) -> None:
    with living_at(life.now):
        visit.booking = fresh(visit)
        confirm_pencilled(case=life.case, visit=visit, actor=life.house.one("desk").actor, now=life.now)


def prepare(life: Life, visit: CaseVisit) -> None:
    """Here, recognised, asked again: all gates of the day."""
    life.now = max(life.now, visit.booking.starts_at)
    with living_at(life.now):
        diary.arrive(booking=fresh(visit), actor=life.house.one("desk").actor, now=life.now)
    recognise(life)


def recognise(life: Life) -> None:
    """Asked who they are, and whether anything has changed."""
    nurse = life.house.one("assistant")
    with living_at(life.now):
        confirm_identity(case=life.case, user=nurse, actor=nurse.actor, now=life.now)
        answers = answers_of(life.case)
        items = reask_items(answers) if answers else ()
        ask_again(
            case=life.case,
            shown=[item.id for item in items],
            replies={item.id: item.usual for item in items},
            user=nurse,
            actor=nurse.actor,
            now=life.now,
        )


def begin(life: Life, visit: CaseVisit) -> Session:
    dentist = life.house.one("dentist")
    with living_at(life.now):
        visit.booking = fresh(visit)
        return start_session(case=life.case, visit=visit, user=dentist, actor=dentist.actor, now=life.now)


def _ask_in_private(life: Life) -> None:
    dentist = life.house.one("dentist")
    answer_here(
        case=life.case, values=_IN_PRIVATE, source=Source.CHAIR, user=dentist, actor=dentist.actor, now=life.now
    )


def _examine(life: Life) -> None:
    dentist = life.house.one("dentist")
    found = Examination(
        examined_at=life.now,
        examined_on=life.now.astimezone(life.house.site.zone).date(),
        profession=Profession(dentist.profession),
        looked_at=frozenset(Item),
        gums=Gums(),
        cleaned_on=life.now.date() - timedelta(days=life.random.randint(15, 90)),
    )
    examine(case=life.case, examination=found, note="", user=dentist, actor=dentist.actor, now=life.now)


def _plan(life: Life, *, light: PlannedLight, cycles: int) -> None:
    dentist = life.house.one("dentist")
    details = PlanDetails(
        product=life.house.gel,
        upper_arch=True,
        lower_arch=True,
        teeth_left_out=(),
        sessions=1,
        cycles_per_session=cycles,
        minutes_per_cycle=15,
        least_days_between=7,
        light=light,
        isolation=Isolation.RESIN_BARRIER,
        fee=life.house.site.prices.order_by("sessions").values_list("amount", flat=True)[0],
        expectation="A few steps lighter on the guide are likely; nobody can promise how many.",
    )
    make_plan(case=life.case, details=details, user=dentist, actor=dentist.actor, now=life.now)


def sign_on_tablet(life: Life) -> None:
    plan = life.case.plans.select_related("planned_by", "prescribed_by").order_by("-version")[0]
    talk = talk_about(plan)
    if talk is None:
        return
    text = frozen_text(case=life.case, plan=plan, talk=talk, now=life.now)
    given = SignatureInput(
        name=life.patient.name,
        declared=True,
        seen_sha256=text.sha256,
        device="tablet or computer",
        strokes=SIGNATURE,
        photographs={use: use == PhotoUse.RECORD for use in PhotoUse},
    )
    sign(case=life.case, given=given, actor=life.themselves, now=life.now)


def shades(random: Random) -> tuple[str, str, str]:
    """Start, straight after (dry teeth), a month later: plausible steps on the guide, never a promise."""
    start = random.randint(7, 14)
    gain = random.randint(2, 6)
    dry = max(0, start - gain - 1)
    month = max(0, start - gain + random.randint(0, 1))
    return TABS[start].code, TABS[dry].code, TABS[month].code


def fresh(visit: CaseVisit) -> Booking:
    return Booking.objects.select_related("site", "patient", "visit_type").get(pk=visit.booking_id)

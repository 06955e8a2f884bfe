"""A case on its way to the chair: answered, examined, planned, talked through, signed. Invented throughout."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.test import Client

from clinic.diary.models import Booking, Status, VisitCode, VisitType
from clinic.messages import links, visits
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.clock import real_now
from tests.cast import NOW, Cast, actor_of
from tests.remembered import remembered
from tests.whitening.chairside import chairs
from tests.whitening.screening.someone import ALL_WELL, FOLLOWING, IN_PRIVATE_WELL
from whitening.cases.actions import add_visit
from whitening.cases.models import Case, Isolation, Plan, PlannedLight, VisitPurpose
from whitening.consent.actions import SignatureInput, TalkDetails, countersign, frozen_text, record_talk, sign
from whitening.consent.models import PhotoUse, Signature, Talk
from whitening.consent.reading import talk_about
from whitening.screening.actions import PlanDetails, answer_here, examine, hand_in, make_plan
from whitening.screening.actions.answering import draft_of
from whitening.screening.answers import NONE_TAKEN, read_answer, to_data
from whitening.screening.examination import Examination, Item
from whitening.screening.facts import AnswerValue
from whitening.screening.grades import Profession
from whitening.screening.models import AnswerSet, ExaminationRecord, Source
from whitening.screening.questions import home_questions, next_question, open_questions
from whitening.screening.reading import answers_of, given_from_data

# A name written with a mouse: two strokes, in order of time.
STROKES = [[[100, 200, 0], [160, 80, 110], [220, 210, 230]], [[300, 120, 900], [420, 190, 1100]]]
# The case's other tests begin with a case that was opened at this moment.
TALKED_AT = NOW + timedelta(minutes=40)
SIGNED_AT = NOW + timedelta(minutes=50)


def themselves(cast: Cast) -> Actor:
    return Actor(kind="patient", id=str(cast.patient.pk), name=cast.patient.name)


def raw(value: AnswerValue) -> list[str]:
    """What a browser would send for it."""
    return (list(value) or [NONE_TAKEN]) if isinstance(value, tuple) else [str(value)]


def answered(cast: Cast, case: Case, *, now: datetime = NOW, **changed: AnswerValue) -> AnswerSet:
    """All well but for what is named."""
    wanted = ALL_WELL | FOLLOWING | changed
    today = now.astimezone(case.site.zone).date()
    values: dict[str, AnswerValue] = {}
    while (question := next_question(values)) is not None:
        values[question.id] = read_answer(question=question, raw=raw(wanted[question.id]), today=today)
    # As kept one by one, in one go: thirty questions in hundreds of tests.
    draft = draft_of(case, now=now)
    draft.values, draft.given_in = to_data(values), dict.fromkeys(values)
    draft.save()
    assert {one.id for one in home_questions(values)} == set(values)
    return hand_in(case=case, source=Source.LINK, language="en", actor=themselves(cast), now=now)


def asked_in_private(cast: Cast, case: Case, *, now: datetime = NOW, **changed: AnswerValue) -> AnswerSet | None:
    """By the dentist, face to face, what is still open of it."""
    held = answers_of(case)
    waiting = [one.id for one in open_questions(held=held.values if held else {}) if one.private]
    values = {name: (IN_PRIVATE_WELL | changed)[name] for name in waiting}
    if not values:
        return None
    return answer_here(
        case=case,
        values=values,
        source=Source.CHAIR,
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=now,
    )


def examined(cast: Cast, case: Case, *, now: datetime = NOW, **changed: Any) -> ExaminationRecord:
    """By the dentist, who asks in private first; everything looked at and nothing found but what is named."""
    asked_in_private(cast, case, now=now)
    fields: dict[str, Any] = {
        "examined_at": now,
        "examined_on": now.astimezone(case.site.zone).date(),
        "profession": Profession.DENTIST,
        "looked_at": frozenset(Item),
    }
    return examine(
        case=case,
        examination=Examination(**fields | changed),
        note="",
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=now,
    )


def details(**changed: Any) -> PlanDetails:
    fields: dict[str, Any] = {
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
        "fee": Decimal("400.00"),
        "expectation": "Two or three steps on the guide are likely.",
    }
    return PlanDetails(**fields | changed)


def planned(cast: Cast, case: Case, *, now: datetime = NOW, **changed: Any) -> Plan:
    return make_plan(
        case=case, details=details(**changed), user=cast.clinician, actor=actor_of(cast.clinician), now=now
    )


def talked(cast: Cast, case: Case, *, now: datetime = TALKED_AT, **changed: Any) -> Talk:
    fields: dict[str, Any] = {"can_decide": True, "what_matters": "That it looks natural."}
    said = TalkDetails(**fields | changed)
    return record_talk(case=case, details=said, user=cast.clinician, actor=actor_of(cast.clinician), now=now)


@remembered
def ready_to_sign(cast: Cast, **plan: Any) -> Case:
    """Answered, examined, planned, talked through."""
    case = chairs.a_case(cast)
    answered(cast, case)
    examined(cast, case)
    planned(cast, case, **plan)
    talked(cast, case)
    return case


def pen(case: Case, **changed: Any) -> SignatureInput:
    """What the patient does on the page that shows the words as they stand now."""
    plan = case.plans.order_by("-version")[0]
    talk = talk_about(plan)
    assert talk is not None
    fields: dict[str, Any] = {
        "name": case.patient.name,
        "declared": True,
        "seen_sha256": frozen_text(case=case, plan=plan, talk=talk, now=SIGNED_AT).sha256,
        "device": "phone",
        "strokes": STROKES,
        "photographs": {use: use == PhotoUse.RECORD for use in PhotoUse},
    }
    return SignatureInput(**fields | changed)


def signed(cast: Cast, case: Case, *, now: datetime = SIGNED_AT, **changed: Any) -> Signature:
    return sign(case=case, given=pen(case, **changed), actor=themselves(cast), now=now)


def countersigned(cast: Cast, case: Case, *, now: datetime = SIGNED_AT) -> None:
    countersign(case=case, user=cast.clinician, actor=actor_of(cast.clinician), now=now)


def visit_of(
    cast: Cast, case: Case, *, starts_at: datetime = NOW + timedelta(days=3), patient: Patient | None = None
) -> Booking:
    """A session in the diary, without rooms and people: the private page belongs to it."""
    visit_type = VisitType.objects.get_or_create(
        site=cast.fernbrook, code=VisitCode.TREATMENT, defaults={"name": "Whitening session"}
    )[0]
    booking = Booking.objects.create(**_booking(cast, visit_type, starts_at) | {"patient": patient or cast.patient})
    with transaction.atomic():
        add_visit(case=case, booking=booking, purpose=VisitPurpose.SESSION, actor=actor_of(cast.desk), session_number=1)
    return booking


def _booking(cast: Cast, visit_type: VisitType, starts_at: datetime) -> dict[str, Any]:
    local = starts_at.astimezone(cast.fernbrook.zone)
    return {
        "site": cast.fernbrook,
        "visit_type": visit_type,
        "status": Status.BOOKED,
        "wall_on": local.date(),
        "wall_time": local.time(),
        "zone": cast.fernbrook.timezone,
        "starts_at": starts_at,
        "ends_at": starts_at + timedelta(minutes=90),
        "booked_at": NOW,
        "booked_by": "Dana Popescu",
    }


def phone_of(cast: Cast, booking: Booking, *, code_passed: bool = True) -> Client:
    """The patient's own phone, known by the date of birth; with code_passed, by the code as well."""
    with transaction.atomic():
        link, _url = links.issue(
            purpose="visit",
            subject_id=booking.pk,
            patient=booking.patient,
            site=cast.fernbrook,
            actor=actor_of(cast.desk),
            now=NOW,
        )
        visit, secret = visits.begin(link=link, real_now=real_now())
        visit.known_at = real_now()
        visit.code_passed_at = real_now() if code_passed else None
        visit.save()
    phone = Client()
    phone.cookies[visits.cookie_name()] = secret
    return phone


def given(row: AnswerSet) -> dict[str, AnswerValue]:
    return {name: answer.value for name, answer in given_from_data(row.values).items()}

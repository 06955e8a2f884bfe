"""A world with cases that can be signed, each for one test, and one with findings to decide about.

In the order of their numbers: the patient's pages, the findings, signing by hand, signing by keyboard, an interpreter
and a paper.
"""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from clinic.diary.models import ResourceKind
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from clinic.trail.clock import real_now
from tests.cast import Cast, actor_of, open_practice
from tests.clinic.diary.house import add
from tests.papers import a_picture, filed
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.actions import open_case
from whitening.cases.models import Case
from whitening.screening.examination import ToothFinding, Trouble

# Of whom, in how many days.
TO_SIGN = ((4, "Ottoline Brandt"), (5, "Marek Dvořák"))


def fill() -> None:
    cast, now = open_practice(), real_now()
    # Without a room there is no day of the diary to look at.
    add(cast, ResourceKind.ROOM, name="Willow")
    talked_through(cast, chairs.a_case(cast), now, days=2)
    worrying(cast, now)
    # A test that signs leaves its case signed, so none shares it with another: they run in any order.
    for days, name in TO_SIGN:
        talked_through(cast, case_of(cast, patient_of(cast, name, now), now), now, days=days)
    interpreted(cast, now)


def day_of(case: int) -> str:
    """On which the visit of a case of its own stands in the diary. The seed and the test run on the same day."""
    days = {number: days for number, (days, _name) in enumerate(TO_SIGN, start=3)}[case]
    return (real_now() + timedelta(days=days)).astimezone(ZoneInfo("Europe/London")).date().isoformat()


def interpreted(cast: Cast, now: datetime) -> None:
    """With a scan of a signed paper that nobody has written down yet."""
    case = case_of(cast, patient_of(cast, "Chiamaka Obi", now), now)
    who = {"interpreter": "present", "interpreter_name": "Ngozi Eze", "interpreter_language": "Igbo"}
    talked_through(cast, case, now, days=6, **who)
    about = {"kind": "consent", "subject_kind": "case", "subject_id": str(case.pk)}
    filed(case.patient, cast.assistant, content=a_picture("JPEG", size=(620, 877)), filed_at=now, **about)


def talked_through(cast: Cast, case: Case, now: datetime, *, days: int, **talk: str) -> None:
    course.answered(cast, case, now=now)
    course.examined(cast, case, now=now)
    course.planned(cast, case, now=now)
    course.talked(cast, case, now=now, **talk)
    course.visit_of(cast, case, starts_at=now + timedelta(days=days), patient=case.patient)


def worrying(cast: Cast, now: datetime) -> None:
    other = patient_of(cast, "Jip de Wit", now)
    case = case_of(cast, other, now)
    course.answered(cast, case, now=now, reacted_to_resin="yes", gums_bleed="yes", medicines=("ibuprofen",))
    sick = ToothFinding("11", frozenset({Trouble.DECAY}))
    course.examined(cast, case, now=now, teeth=(sick,))
    course.visit_of(cast, case, starts_at=now + timedelta(days=3), patient=other)


def patient_of(cast: Cast, name: str, now: datetime) -> Patient:
    details = Details(name=name, birth_on=cast.patient.birth_on, phone="+442079460103")
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=actor_of(cast.desk), now=now)


def case_of(cast: Cast, patient: Patient, now: datetime) -> Case:
    return open_case(
        patient=patient, wishes="Whiter.", expected_cycles=4, user=cast.desk, actor=actor_of(cast.desk), now=now
    )

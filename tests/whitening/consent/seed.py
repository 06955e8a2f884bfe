"""A world with two cases: one with findings to decide about, and one that has been talked through and can be signed."""

from datetime import timedelta

from clinic.patients.actions import Details, register_patient
from clinic.trail.clock import real_now
from tests.cast import actor_of, open_practice
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.actions import open_case
from whitening.screening.examination import ToothFinding, Trouble


def fill() -> None:
    cast, now = open_practice(), real_now()
    case = chairs.a_case(cast)
    course.answered(cast, case, now=now)
    course.examined(cast, case, now=now)
    course.planned(cast, case, now=now)
    course.talked(cast, case, now=now)
    course.visit_of(cast, case, starts_at=now + timedelta(days=2))
    other = register_patient(
        site=cast.fernbrook,
        details=Details(name="Jip de Wit", birth_on=cast.patient.birth_on, phone="+442079460103"),
        user=cast.desk,
        actor=actor_of(cast.desk),
        now=now,
    )
    worrying = open_case(
        patient=other, wishes="Whiter.", expected_cycles=4, user=cast.desk, actor=actor_of(cast.desk), now=now
    )
    course.answered(cast, worrying, now=now, reacted_to_resin="yes", gums_bleed="yes", medicines=("ibuprofen",))
    sick = ToothFinding("11", frozenset({Trouble.DECAY}))
    course.examined(cast, worrying, now=now, teeth=(sick,))
    course.visit_of(cast, worrying, starts_at=now + timedelta(days=3), patient=other)

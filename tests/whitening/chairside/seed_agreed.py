"""A world whose two patients have agreed to everything: nothing stands against the sessions that have just begun.

The day's list is still to be read out at the chair.
"""

from datetime import datetime, timedelta
from uuid import uuid4

from clinic.trail.clock import real_now
from tests.cast import Cast, actor_of, open_practice
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.consent.seed import case_of, patient_of
from whitening.cases.models import Case, PlannedLight
from whitening.chairside.actions import Tap, open_session, record_tap
from whitening.chairside.models import Session
from whitening.chairside.protocol.payloads import People, Person
from whitening.consent.actions import frozen_text
from whitening.consent.reading import talk_about


def fill() -> None:
    cast, opened_at = open_practice(), real_now() - timedelta(minutes=1)
    chairs.a_batch(cast)
    chairs.a_light(cast)
    # A test goes through its session to the end, so none shares it with another.
    other = patient_of(cast, "Ottoline Brandt", opened_at)
    for case in (chairs.a_case(cast), case_of(cast, other, opened_at)):
        agreed(cast, case, opened_at - timedelta(minutes=10))
        begun(cast, case, opened_at)


def begun(cast: Cast, case: Case, opened_at: datetime) -> None:
    session = open_session(
        case=case,
        plan=case.plans.get(),
        booking=None,
        shut_gates=[],
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=opened_at,
    )
    people_named(cast, session, opened_at)


def agreed(cast: Cast, case: Case, now: datetime) -> None:
    course.answered(cast, case, now=now)
    course.examined(cast, case, now=now)
    plan = course.planned(cast, case, now=now, light=PlannedLight.HAND_HELD)
    course.talked(cast, case, now=now)
    talk = talk_about(plan)
    assert talk is not None
    seen = frozen_text(case=case, plan=plan, talk=talk, now=now).sha256
    course.signed(cast, case, now=now, seen_sha256=seen)
    course.countersigned(cast, case, now=now)


def people_named(cast: Cast, session: Session, now: datetime) -> None:
    clinician, assistant = (Person(id=user.pk, name=user.name) for user in (cast.clinician, cast.assistant))
    tap = Tap(payloads=(People(clinician=clinician, assistant=assistant),), client_id=str(uuid4()), happened_at=now)
    record_tap(session=session, tap=tap, user=cast.assistant, actor=actor_of(cast.assistant), now=now)

"""A world with one session that has just been opened, its people named."""

from datetime import timedelta
from uuid import uuid4

from clinic.trail.clock import real_now
from tests.cast import actor_of, open_practice
from tests.whitening.chairside import chairs
from whitening.chairside.actions import Tap, open_session, record_tap
from whitening.chairside.protocol.payloads import People, Person


def fill() -> None:
    cast, opened_at = open_practice(), real_now() - timedelta(minutes=1)
    case = chairs.a_case(cast)
    chairs.a_batch(cast)
    chairs.a_light(cast)
    clinician, assistant = (Person(id=user.pk, name=user.name) for user in (cast.clinician, cast.assistant))
    session = open_session(
        case=case,
        plan=chairs.a_plan(cast, case),
        booking=None,
        shut_gates=[],
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=opened_at,
    )
    tap = Tap(
        payloads=(People(clinician=clinician, assistant=assistant), chairs.asked(cast)),
        client_id=str(uuid4()),
        happened_at=opened_at,
    )
    record_tap(session=session, tap=tap, user=cast.assistant, actor=actor_of(cast.assistant), now=opened_at)

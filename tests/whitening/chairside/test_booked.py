"""A session of a booked visit: its people and its light are those of the diary, and the visit moves along."""

from datetime import timedelta
from uuid import uuid4

import pytest

from clinic.accounts.models import User
from clinic.diary.models import (
    Booking,
    Need,
    Resource,
    ResourceClaim,
    ResourceKind,
    Status,
    VisitCode,
    VisitType,
)
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.cases.models import PlannedLight
from whitening.chairside import log
from whitening.chairside.actions import NotReadyToClose, close_session, open_session
from whitening.chairside.models import Session
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Arches

pytestmark = pytest.mark.django_db


def a_booking(cast: Cast, claims: dict[Need, User | Resource]) -> Booking:
    visit = VisitType.objects.create(site=cast.fernbrook, code=VisitCode.TREATMENT, name="Whitening session")
    booking = Booking.objects.create(
        site=cast.fernbrook,
        patient=cast.patient,
        visit_type=visit,
        status=Status.ARRIVED,
        wall_on=chairs.DAY,
        wall_time=NOW.time(),
        zone="Europe/London",
        starts_at=NOW,
        ends_at=NOW + timedelta(minutes=90),
        arrived_at=NOW,
        booked_at=NOW,
        booked_by=cast.desk.name,
    )
    for need, claimed in claims.items():
        resource = claimed if isinstance(claimed, Resource) else person(cast, claimed)
        ResourceClaim.objects.create(
            booking=booking,
            resource=resource,
            need=need,
            segment="all of it",
            start_at=booking.starts_at,
            end_at=booking.ends_at,
        )
    return booking


def person(cast: Cast, user: User) -> Resource:
    return Resource.objects.create(site=cast.fernbrook, kind=ResourceKind.PERSON, name=user.name, person=user)


def begin(cast: Cast, booking: Booking, user: User, **plan: object) -> Session:
    case = chairs.a_case(cast)
    chairs.a_batch(cast)
    return open_session(
        case=case,
        plan=chairs.a_plan(cast, case, **plan),
        booking=booking,
        shut_gates=[],
        user=user,
        actor=actor_of(user),
        now=NOW,
    )


def test_the_people_and_the_light_are_those_booked(cast: Cast) -> None:
    chairs.a_light(cast)
    second = chairs.a_light(cast, name="Light 2")
    claims: dict[Need, User | Resource] = {
        Need.CLINICIAN: cast.hygienist,
        Need.ASSISTANT: cast.assistant,
        Need.EXAMINER: cast.clinician,
        Need.LIGHT_HAND_HELD: second.resource,
    }
    session = begin(cast, a_booking(cast, claims), cast.assistant)
    plan = log.plan_of(session, now=NOW)
    assert plan.clinician is not None
    assert plan.assistant is not None
    assert (plan.clinician.name, plan.assistant.name) == (cast.hygienist.name, cast.assistant.name)
    assert plan.light_unit == plan.curing_unit == second.pk
    state = chairs.state_at(session)
    assert state.offers[0].payloads == (made.People(clinician=plan.clinician, assistant=plan.assistant),)


def test_without_a_booked_light_the_first_of_its_kind(cast: Cast) -> None:
    first = chairs.a_light(cast)
    claims: dict[Need, User | Resource] = {Need.ROOM: Resource.objects.get(name="Light 1")}
    session = begin(cast, a_booking(cast, claims), cast.assistant, light=PlannedLight.ARCH)
    plan = log.plan_of(session, now=NOW)
    # The room's claim happens to be the hand-held light; no arch light is here at all.
    assert (plan.light_unit, plan.curing_unit) == (None, first.pk)


@pytest.mark.parametrize(
    ("upper", "lower", "arches"),
    [(True, True, Arches.BOTH), (True, False, Arches.UPPER), (False, True, Arches.LOWER)],
)
def test_the_arches_of_the_plan(cast: Cast, upper: bool, lower: bool, arches: Arches) -> None:
    session = begin(cast, a_booking(cast, {}), cast.clinician, upper_arch=upper, lower_arch=lower)
    plan = log.plan_of(session, now=NOW)
    assert plan.arches is arches
    assert {tooth[0] for tooth in plan.teeth} <= ({"1", "2"} if upper else set()) | ({"3", "4"} if lower else set())


@pytest.mark.parametrize(("who", "part"), [("clinician", "clinician"), ("assistant", "assistant")])
def test_who_opens_stands_in_for_their_own_part(cast: Cast, who: str, part: str) -> None:
    session = begin(cast, a_booking(cast, {}), getattr(cast, who))
    plan = log.plan_of(session, now=NOW)
    named = {"clinician": plan.clinician, "assistant": plan.assistant}
    assert {name for name, someone in named.items() if someone is not None} == {part}


def test_the_visit_moves_along_with_the_session(cast: Cast) -> None:
    chairs.a_light(cast)
    booking = a_booking(cast, {})
    session = begin(cast, booking, cast.clinician)
    booking.refresh_from_db()
    assert booking.status == Status.CHECKED_IN
    took = chairs.played(cast, session)
    close_session(
        session=session,
        client_id=str(uuid4()),
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=chairs.minutes(took),
    )
    booking.refresh_from_db()
    assert booking.status == Status.FULFILLED


def test_an_ended_session_without_shades_keeps_none(cast: Cast) -> None:
    session = begin(cast, a_booking(cast, {}), cast.clinician)
    clinician = made.Person(id=cast.clinician.pk, name=cast.clinician.name)
    helper = made.Person(id=cast.assistant.pk, name=cast.assistant.name)
    chairs.tapped(cast, session, made.People(clinician=clinician, assistant=helper))
    with nothing_written(), pytest.raises(NotReadyToClose):
        close(cast, session)
    chairs.tapped(cast, session, chairs.asked(cast))
    chairs.tapped(cast, session, *chairs.state_at(session).also[-1].payloads)
    while not (state := chairs.state_at(session)).can_close:
        chairs.tapped(cast, session, *state.offers[0].payloads)
    assert state.ended_early
    close(cast, session)
    assert session.case.shades.count() == 0


def close(cast: Cast, session: Session) -> Session:
    return close_session(
        session=session, client_id=str(uuid4()), user=cast.clinician, actor=actor_of(cast.clinician), now=NOW
    )

"""A patient in the chair: case, plan, product, batch and lights as a session needs them. Invented throughout."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

from clinic.accounts.models import Site
from clinic.diary.models import LightKind, Resource, ResourceKind
from tests.cast import NOW, Cast, actor_of
from tests.remembered import remembered
from whitening.cases.actions import open_case
from whitening.cases.models import Basis, Case, Peroxide, Plan, PlannedLight, Product, ProductKind
from whitening.chairside import log
from whitening.chairside.actions import (
    LightDetails,
    Received,
    Tap,
    check_light,
    open_session,
    receive_batch,
    record_tap,
    save_light,
)
from whitening.chairside.models import Batch, LightUnit, Session, SessionEvent
from whitening.chairside.protocol.payloads import Payload, People, Person, Reask
from whitening.chairside.protocol.state import SessionState
from whitening.screening.jurisdictions import jurisdictions
from whitening.screening.reask import reask_list

DAY = date(2026, 3, 3)


def minutes(number: float) -> datetime:
    return NOW + timedelta(minutes=number)


def a_gel(name: str = "Whitening gel A, 6 % hydrogen peroxide as used") -> Product:
    fields = {
        "kind": ProductKind.GEL,
        "peroxide": Peroxide.HYDROGEN,
        "label_percent": Decimal(6),
        "label_basis": Basis.AS_USED,
        "hp_percent_as_used": Decimal(6),
        "needs_mixing": True,
        "mix_life_minutes": 20,
        "cycle_minutes_most": 15,
        "cycles_most": 6,
        "light_allowed": True,
    }
    return Product.objects.get_or_create(name=name, defaults=fields)[0]


def a_batch(
    cast: Cast, *, number: str = "B-117", expires_on: date = date(2027, 3, 31), site: Site | None = None
) -> Batch:
    held = Batch.objects.filter(number=number, site=site or cast.fernbrook).first()
    received = Received(product=a_gel(), number=number, expires_on=expires_on, quantity=20, unit="kits")
    owner = cast.assistant if site is None else cast.elsewhere
    return held or receive_batch(
        site=site or cast.fernbrook, received=received, user=owner, actor=actor_of(owner), now=NOW
    )


def a_light(cast: Cast, *, kind: str = LightKind.HAND_HELD, output: int = 1000, name: str = "Light 1") -> LightUnit:
    resource, _ = Resource.objects.get_or_create(
        site=cast.fernbrook, kind=ResourceKind.LIGHT, name=name, defaults={"light_kind": kind}
    )
    held = LightUnit.objects.filter(resource=resource).first()
    if held is not None:
        return held
    details = LightDetails(output_least_mw_cm2=800, output_most_mw_cm2=1500, probe_distance_mm=5)
    unit = save_light(resource=resource, details=details, user=cast.manager, actor=actor_of(cast.manager))
    check_light(
        unit=unit, output_mw_cm2=output, distance_mm=5, user=cast.assistant, actor=actor_of(cast.assistant), now=NOW
    )
    return unit


def a_case(cast: Cast) -> Case:
    held = Case.objects.filter(patient=cast.patient).first()
    return held or open_case(
        patient=cast.patient,
        wishes="A shade or two lighter, nothing glaring.",
        expected_cycles=4,
        user=cast.desk,
        actor=actor_of(cast.desk),
        now=NOW,
    )


def a_plan(cast: Cast, case: Case, **changed: object) -> Plan:
    fields: dict[str, object] = {
        "version": case.plans.count() + 1,
        "upper_arch": True,
        "lower_arch": True,
        "sessions": 2,
        "cycles_per_session": 4,
        "minutes_per_cycle": 15,
        "least_days_between": 7,
        "product": a_gel(),
        "strength_hp_percent": Decimal(6),
        "light": PlannedLight.HAND_HELD,
        "fee": Decimal(400),
        "currency": "GBP",
        "jurisdiction": next(iter(jurisdictions())),
        "local_rule_version": "1",
        "planned_at": NOW,
        "planned_by": cast.clinician,
    }
    return Plan.objects.create(case=case, **(fields | changed))


@remembered
def a_session(cast: Cast, **changed: object) -> Session:
    """Open, by the clinician, without a booking."""
    case = a_case(cast)
    held = Session.objects.filter(case=case).first()
    if held is not None:
        return held
    a_batch(cast)
    a_light(cast)
    return open_session(
        case=case,
        plan=a_plan(cast, case, **changed),
        booking=None,
        shut_gates=[],
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=NOW,
    )


def tapped(cast: Cast, session: Session, *payloads: Payload, after: float = 0) -> list[SessionEvent]:
    """One tap of the assistant, so many minutes after the opening."""
    tap = Tap(payloads=payloads, client_id=str(uuid4()), happened_at=minutes(after))
    return record_tap(session=session, tap=tap, user=cast.assistant, actor=actor_of(cast.assistant), now=minutes(after))


def asked(cast: Cast, *, leave_out: int | None = None) -> Reask:
    """The whole list of the day, as nobody has answered anything before; `leave_out` is the item not shown."""
    shown = [str(place) for place in range(len(reask_list().items)) if place != leave_out]
    return Reask(asked_by=Person(id=cast.assistant.pk, name=cast.assistant.name), shown=".".join(shown))


def state_at(session: Session, after: float = 0) -> SessionState:
    return log.state_of(session, now=minutes(after))


def played(cast: Cast, session: Session) -> float:
    """Taps the first offers until only closing is left; the minutes it took."""
    clinician, assistant = (Person(id=user.pk, name=user.name) for user in (cast.clinician, cast.assistant))
    tapped(cast, session, People(clinician=clinician, assistant=assistant))
    tapped(cast, session, asked(cast))
    clock = 0.0
    while not (state := state_at(session, clock)).can_close:
        if state.offers:
            tapped(cast, session, *state.offers[0].payloads, after=clock)
        else:
            assert state.next_at is not None
            clock = (state.next_at - NOW).total_seconds() / 60
    return clock

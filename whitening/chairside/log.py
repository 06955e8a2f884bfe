"""From rows to the plain log and its plan, and so to the state of a session. Nobody else reads rows for it."""

from datetime import date, datetime

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, who_may
from clinic.diary.models import Need, ResourceKind
from whitening.cases.models import Isolation
from whitening.chairside import readiness, registries
from whitening.chairside.models import Batch, BatchHold, LightUnit, Session, SessionEvent
from whitening.chairside.protocol.choices import Arches, LightKind
from whitening.chairside.protocol.codec import from_data
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.limits import BatchFacts, SessionPlan, default
from whitening.chairside.protocol.payloads import Person
from whitening.chairside.protocol.state import SessionState
from whitening.consent.reading import standing
from whitening.screening.teeth import planned_teeth
from whitening.shade.tabs import TABS

_CLINICIANS = (Need.CLINICIAN, Need.EXAMINER)


def event_of(row: SessionEvent) -> Event:
    return Event(
        seq=row.seq,
        payload=from_data(row.kind_code, row.data),
        happened_at=row.happened_at,
        recorded_at=row.recorded_at,
        actor_id=row.actor_id,
        actor_name=row.actor_name,
        client_id=row.client_id,
    )


def read(session: Session) -> list[Event]:
    return [event_of(row) for row in session.events.order_by("seq")]


def state_of(session: Session, *, now: datetime) -> SessionState:
    return fold(read(session), plan_of(session, now=now), now)


def plan_of(session: Session, *, now: datetime) -> SessionPlan:
    """The limits of the signed plan and of its product, and what stands around the chair right now."""
    plan, product = session.plan, session.plan.product
    day = now.astimezone(session.site.zone).date()
    clinician, assistant = _people(session)
    cycles_most = product.cycles_most or default("cycles_most")
    minutes_most = product.cycle_minutes_most or default("minutes_most")
    batch = readiness.batch_for(site=session.site, product=product, day=day)
    return SessionPlan(
        arches=_arches(upper=plan.upper_arch, lower=plan.lower_arch),
        teeth=planned_teeth(upper=plan.upper_arch, lower=plan.lower_arch, left_out=plan.teeth_left_out),
        light=LightKind.coded(plan.light),
        resin_barrier=plan.isolation == Isolation.RESIN_BARRIER,
        needs_mixing=product.needs_mixing,
        cycles_planned=_cycles_today(session),
        cycles_most=cycles_most,
        cycles_agreed=_cycles_agreed(session),
        minutes_planned=plan.minutes_per_cycle,
        minutes_most=minutes_most,
        contact_minutes_most=cycles_most * minutes_most,
        mix_life_minutes=product.mix_life_minutes,
        clinician=clinician,
        assistant=assistant,
        light_unit=_unit(session, str(plan.light)),
        curing_unit=_unit(session, LightKind.HAND_HELD.value),
        batch=BatchFacts(id=batch.pk, number=batch.number, usable=True) if batch else None,
        held_batches=held_batches(session),
        against=registries.against(session, now),
        tabs=tuple(tab.code for tab in TABS),
    )


def _cycles_today(session: Session) -> int:
    """As agreed, or as many as the diary could still fit in for a patient who was late: never more than agreed."""
    agreed, booking = session.plan.cycles_per_session, session.booking
    return agreed if booking is None or booking.cycles_before is None else min(booking.cycles, agreed)


def _cycles_agreed(session: Session) -> int:
    """Of the plan that the consent stands for right now: one that was changed and signed anew counts at once.

    Where none stands, a shut gate says so; the number stays that of the plan the session was opened with.
    """
    held = standing(session.case)
    return (held.plan if held.plan is not None and held.agreed else session.plan).cycles_per_session


def _arches(*, upper: bool, lower: bool) -> Arches:
    if upper and lower:
        return Arches.BOTH
    return Arches.UPPER if upper else Arches.LOWER


def _people(session: Session) -> tuple[Person | None, Person | None]:
    """As booked; a person who opens the session without a booking stands in for their own part."""
    clinician = assistant = None
    if session.booking is not None:
        claims = session.booking.claims.filter(resource__kind=ResourceKind.PERSON, active=True)
        for claim in claims.select_related("resource__person").order_by("start_at", "pk"):
            if claim.need in _CLINICIANS:
                clinician = clinician or person_of(claim.resource.person)
            elif claim.need == Need.ASSISTANT:
                assistant = assistant or person_of(claim.resource.person)
    opener = session.opened_by
    treats = opener.may_carry_out or opener.may_examine_and_decide
    if clinician is None and treats:
        clinician = person_of(opener)
    elif assistant is None and not treats:
        assistant = person_of(opener)
    return clinician, assistant


def person_of(user: User | None) -> Person | None:
    return Person(id=user.pk, name=user.name) if user else None


def _unit(session: Session, kind: str) -> int | None:
    """The light that was booked, else the first of its kind here that is in use."""
    units = LightUnit.objects.in_use().filter(resource__site=session.site, resource__light_kind=kind)
    if session.booking is not None:
        booked = units.filter(resource__claims__booking=session.booking, resource__claims__active=True).first()
        if booked is not None:
            return booked.pk
    first = units.first()
    return first.pk if first else None


def held_batches(session: Session) -> frozenset[int]:
    """Of those used in this session: a batch put on hold meanwhile is blocked at once, in the mix as well."""
    used = Batch.objects.filter(uses__session=session)
    return frozenset(BatchHold.objects.filter(batch__in=used, released_at=None).values_list("batch_id", flat=True))


def who_may_treat(session: Session, day: date) -> dict[int, str]:
    """Clinicians of this site whose registration covers the day: the only ones who stand as the treating person."""
    return {user.pk: user.name for user in who_may(Capability.SESSION_CLOSE, session.site) if user.in_date(day)}


def at_the_chair(session: Session) -> dict[int, str]:
    """Those whose work is beside the chair: whom the screen lists as assistant or as a second pair of eyes."""
    return {user.pk: user.name for user in who_may(Capability.CHAIRSIDE_RECORD, session.site)}


def people_here(session: Session) -> dict[int, str]:
    """Everybody who works at this site, by id: whom an entry may name."""
    return dict(User.objects.of_site(session.site).values_list("pk", "name"))

"""What somebody needs to know before a visit: facts of this visit and of this plan, no words."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Self

from clinic.diary.models import COMING, Booking, Status
from whitening.cases.access import plan_in_force
from whitening.cases.models import CaseVisit, Isolation, Plan, PlannedLight, VisitPurpose

# The day of the session and the two after it; common practice, no study proves the number.
SMOKE_FREE = timedelta(hours=48)
MINUTE = timedelta(minutes=1)
PURPOSES = (VisitPurpose.CONSULTATION, VisitPurpose.SESSION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What the plan in force says about one session. curing_light: the cover of the gums is hardened with one."""

    upper: bool
    lower: bool
    cycles: int
    minutes_per_cycle: int
    session: int
    sessions: int
    light: bool
    curing_light: bool

    @classmethod
    def of(cls, plan: Plan, *, session: int) -> Self:
        return cls(
            upper=plan.upper_arch,
            lower=plan.lower_arch,
            cycles=plan.cycles_per_session,
            minutes_per_cycle=plan.minutes_per_cycle,
            session=session,
            sessions=plan.sessions,
            light=plan.light != PlannedLight.NONE,
            curing_light=plan.isolation == Isolation.RESIN_BARRIER,
        )

    @property
    def gel_minutes(self) -> int:
        return self.cycles * self.minutes_per_cycle

    @property
    def blue_light(self) -> bool:
        """Neither lenses nor glasses of one's own keep it out of the eyes (S25)."""
        return self.light or self.curing_light


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparing:
    is_session: bool
    starts_at: datetime
    ends_at: datetime
    planned: Planned | None = None

    @property
    def minutes(self) -> int:
        return (self.ends_at - self.starts_at) // MINUTE

    @property
    def smoke_free_until(self) -> datetime:
        """Hours as they pass, also over a night in which the clocks change."""
        return self.ends_at.astimezone(UTC) + SMOKE_FREE


def visit_of(booking: Booking) -> CaseVisit | None:
    """What the booking is for, if it is a consultation or a session of a case that goes on, and still stands."""
    if booking.status not in COMING or booking.status == Status.PENDING:
        return None
    rows = CaseVisit.objects.select_related("case__site", "case__patient")
    return rows.filter(booking=booking, purpose__in=PURPOSES, case__closed_at=None).first()


def preparing(visit: CaseVisit, booking: Booking, plan: Plan | None) -> Preparing:
    is_session = visit.purpose == VisitPurpose.SESSION
    session = visit.session_number or 1
    return Preparing(
        is_session=is_session,
        starts_at=booking.starts_at,
        ends_at=booking.ends_at,
        planned=Planned.of(plan, session=session) if plan is not None and is_session else None,
    )


def preparing_for(booking: Booking) -> Preparing | None:
    visit = visit_of(booking)
    return preparing(visit, booking, plan_in_force(visit.case)) if visit else None

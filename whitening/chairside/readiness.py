"""Plain facts about the chair that the gates ask for: lights, batches, identity, earlier sessions."""

from datetime import date, timedelta

from django.db.models import Max

from clinic.accounts.models import Site
from clinic.diary.models import LightKind
from whitening.cases.access import newest
from whitening.cases.models import Case, Product
from whitening.chairside.models import Batch, IdentityCheck, LightUnit, Session

# How long one output check stands. Common practice, no source.
CHECK_VALID_DAYS = 30


def session_counts(case: Case) -> tuple[int, int]:
    """How many sessions were opened, and how many of them are closed."""
    sessions = case.sessions.all()
    return len(sessions), sum(session.closed_at is not None for session in sessions)


def was_opened(case: Case, booking_id: int) -> bool:
    """Whether this very visit has been started at the chair."""
    return any(session.booking_id == booking_id for session in case.sessions.all())


def last_session_on(case: Case) -> date | None:
    """The local day on which the last session was opened: least days between count from there."""
    last: Session | None = newest(case, "sessions", "opened_at", "pk")
    return last.opened_at.astimezone(case.site.zone).date() if last else None


def identity_confirmed_on(case: Case) -> date | None:
    check: IdentityCheck | None = newest(case, "identity_checks", "asked_at", "pk")
    return check.asked_on if check else None


def unit_ready(unit: LightUnit, day: date) -> bool:
    """In service, and its last check passed not too long ago."""
    last = max(unit.checks.all(), key=lambda check: (check.checked_at, check.pk), default=None)
    if last is None or not last.passed or not unit.serviced(day):
        return False
    return last.checked_on + timedelta(days=CHECK_VALID_DAYS) >= day


def ready_units(*, site: Site, kind: str, day: date) -> list[LightUnit]:
    units = LightUnit.objects.in_use().filter(resource__site=site, resource__light_kind=kind)
    return [unit for unit in units.select_related("resource").prefetch_related("checks") if unit_ready(unit, day)]


def light_checked(*, site: Site, kind: str, day: date) -> bool:
    return bool(ready_units(site=site, kind=kind, day=day))


def curing_light_checked(*, site: Site, day: date) -> bool:
    """The barrier is cured with a hand-held light, whatever the plan does to the teeth."""
    return light_checked(site=site, kind=LightKind.HAND_HELD, day=day)


def batch_for(*, site: Site, product: Product, day: date) -> Batch | None:
    """The usable batch that expires first."""
    return Batch.objects.usable(day).filter(site=site, product=product).order_by("expires_on", "pk").first()


def usable_until(*, site: Site, product: Product) -> date | None:
    """The last day on which there is a batch in date that is on no hold."""
    rows = Batch.objects.usable(date.min).filter(site=site, product=product)
    last: date | None = rows.aggregate(last=Max("expires_on"))["last"]
    return last

"""Three people who wait for a sooner time or for one that suits, and a free time that is on offer to one of them."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta

from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, Status, VisitCode
from clinic.diary.openings import find
from clinic.diary.waitlist.clearing import Ask, clear_by
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.diary.waitlist.matching import Match, clinician_of, fits, waiting_here, wanted
from clinic.diary.waitlist.needing import needs_of
from clinic.diary.waitlist.offering import offer
from clinic.patients.models import Patient
from whitening.demo.world.practice import House

# The first waits longest: on which days, and when on them.
SUITS = (
    (19, WishDetails(weekdays=frozenset({1, 3}), over_by=time(13), since_on=date.min, notice_hours=2)),
    (8, WishDetails(not_before=time(14), since_on=date.min, notice_hours=24)),
    (3, WishDetails(since_on=date.min)),
)


def waiting(house: House, today: date, *, now: datetime) -> None:
    """Of those who called long ago, each for another consultation; the last has a visit that would move up."""
    desk = house.one("desk").actor
    visit = WantedVisit(house.site.visit_types.filter(code=VisitCode.CONSULTATION).order_by("pk")[0])
    later = _a_later_visit(house, now)
    others = Patient.objects.filter(site=house.site).exclude(pk=later.patient_id if later else 0).order_by("pk")
    for (days, suits), patient in zip(SUITS, [*others[:2], *([later.patient] if later else [])], strict=False):
        instead = later if later is not None and patient == later.patient else None
        details = replace(suits, since_on=today - timedelta(days=days))
        add_wish(patient=patient, visit=instead or visit, details=details, actor=desk, now=now)


def one_offer(house: House, today: date, *, now: datetime) -> None:
    """The first time from the day after tomorrow on that fits whoever waits longest, as if it had just become free."""
    from_at = instant(today + timedelta(days=2), time(0), house.site.zone)
    for waiter in waiting_here(house.site, now=now).values():
        found = find(
            site=house.site,
            wanted=wanted(waiter.wish, needs_of([waiter.wish])[waiter.wish.pk], now=now),
            earliest_at=from_at,
            latest_at=from_at + timedelta(days=14),
            limit=200,
        )
        opening = next((one for one in found.found if fits(waiter, one)), None)
        if opening is not None:
            ask = Ask(waiter.wish, opening.day, clinician_of(opening))
            offer(Match(waiter.wish, opening, clear_by([ask], now=now)[ask]), now=now)
            return


def _a_later_visit(house: House, now: datetime) -> Booking | None:
    rows = Booking.objects.filter(site=house.site, status=Status.BOOKED, starts_at__gt=now + timedelta(days=1))
    return rows.select_related("site", "patient", "visit_type").order_by("-starts_at", "pk").first()

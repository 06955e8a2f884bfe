"""Offering free times around, and ending the offers that nobody answered: what the tick does for the waiting list.

The tick carries no data. A time is offered once whoever rings: the offer holds it, and nobody has two offers at once.
"""

import logging
from collections.abc import Sequence
from datetime import datetime, time

from django.conf import settings
from django.db import transaction
from django.db.models import Q

from clinic.accounts.models import Site
from clinic.diary.actions.booking import BookingRequest, hold
from clinic.diary.engine.spans import to_minute
from clinic.diary.engine.working import working_spans
from clinic.diary.models import (
    MOVABLE,
    Answer,
    Closure,
    FreedTime,
    ResourceKind,
    Status,
    WaitingOffer,
    WaitingWish,
    WishEnd,
    WorkingPattern,
)
from clinic.diary.refusals import (
    InThePast,
    NobodyWaits,
    OfferEnded,
    OutsideOpeningHours,
    PatientBusy,
    SlotTaken,
)
from clinic.diary.waitlist.answering import lock_offer, lock_wish, settle
from clinic.diary.waitlist.freed import gaps
from clinic.diary.waitlist.listing import end_wish
from clinic.diary.waitlist.matching import Match, matches
from clinic.diary.waitlist.needing import needs_of
from clinic.diary.waitlist.noting import OFFER, WAITLIST, note_offer
from clinic.diary.waitlist.rules import answer_by
from clinic.messages import actions as messages
from clinic.messages.closed import closed_days
from clinic.trail.actor import Actor

logger = logging.getLogger(__name__)
# Why a time that was free a moment ago is not any more, or its person not waiting: the next round or tick looks again.
TOO_LATE = (InThePast, NobodyWaits, OutsideOpeningHours, PatientBusy, SlotTaken)


def tick(*, now: datetime) -> None:
    """Safe to run twice, by two at once, or late."""
    end_offers_due(now=now)
    end_wishes_due(now=now)
    for site in Site.objects.filter(pk__in=FreedTime.objects.values("site")).order_by("pk"):
        try:
            offer_freed(site=site, now=now)
        except Exception:
            # Whatever is wrong at one site, the others' times are offered all the same.
            logger.exception("no offers at site %s", site.pk)


def offer_freed(*, site: Site, now: datetime) -> list[WaitingOffer]:
    """Round after round, until nothing that became free suits anybody who has no offer yet.

    Outside the hours in which somebody can be told nothing is offered, and what became free is kept until then.
    """
    if not can_tell(site, now=now):
        return []
    rows = list(FreedTime.objects.filter(site=site))
    free = gaps(rows, site=site, now=now)
    made: list[WaitingOffer] = []
    while found := matches(site=site, gaps=free, now=now):
        round_ = [one for match in found if (one := _try(match, now)) is not None]
        if not round_:
            # What stood in their way may not stand in anybody else's: the next tick looks again.
            return made
        made += round_
    _forget(site, rows, now)
    return made


def _forget(site: Site, rows: Sequence[FreedTime], now: datetime) -> None:
    """What came in meanwhile has a row of its own, for the next tick.

    While somebody has an offer to answer all of it is kept: they may not want that one, and another may fit them.
    """
    asked = WaitingOffer.objects.unsettled().filter(wish__site=site).exists()
    done = [row.pk for row in rows if not asked or row.ends_at <= now]
    FreedTime.objects.filter(pk__in=done).delete()


def can_tell(site: Site, *, now: datetime) -> bool:
    """While messages go out, or somebody is in to call: in the hours of a room, on a day that is not closed."""
    wall = now.astimezone(site.zone)
    if wall.date() not in closed_days(site, wall.year):
        hours = time(settings.MESSAGES_FROM_HOUR), settings.MESSAGES_UNTIL_HOUR
        if hours[0] <= wall.time() and wall.hour < hours[1]:
            return True
    if Closure.objects.filter(site=site, resource=None, starts_at__lte=now, ends_at__gt=now).exists():
        return False
    rooms = WorkingPattern.objects.filter(resource__site=site, resource__kind=ResourceKind.ROOM, resource__active=True)
    patterns = [one for some in rooms.by_resource().values() for one in some]
    spans = working_spans(patterns, first_on=wall.date(), days=1, zone=site.zone)
    return any(start <= to_minute(now) < end for start, end in spans)


def offer(match: Match, *, now: datetime, actor: Actor = WAITLIST) -> WaitingOffer:
    """Holds the time for this person, and tells them. Raises NobodyWaits and what `hold` raises."""
    with transaction.atomic():
        wish = lock_wish(match.wish.pk)
        busy = WaitingOffer.objects.unsettled().filter(wish__patient=wish.patient_id)
        moves = wish.booking is None or wish.booking.status in MOVABLE
        if wish.ended_at is not None or not moves or busy.exists():
            raise NobodyWaits
        until = answer_by(now=now, starts_at=match.opening.start_at)
        # Asked again: what is planned may be another length than when the time was found.
        needed = needs_of([wish])[wish.pk]
        request = BookingRequest(
            wish.patient,
            wish.visit_type,
            match.opening.start_at,
            needed.cycles,
            needed.light_kind,
            wish.person_id,
            lapses_at=until,
            cycle_minutes=needed.cycle_minutes,
        )
        booking = hold(site=wish.site, request=request, actor=actor, now=now)
        made = WaitingOffer.objects.create(
            wish=wish,
            booking=booking,
            starts_at=booking.starts_at,
            ends_at=booking.ends_at,
            offered_at=now,
            answer_by=until,
            is_clear=match.clear.is_clear,
            clear_words=str(match.clear.words)[:200],
        )
        note_offer("diary.offer_made", made, actor)
        messages.plan(
            kind=OFFER,
            subject=(OFFER, made.pk),
            patient=wish.patient,
            site=wish.site,
            due_at=now,
            not_after=until,
            now=now,
            actor=actor,
        )
    return made


def end_offers_due(*, now: datetime) -> int:
    """Those that nobody answered in time, and those whose visit to move up does not stand any more."""
    done = 0
    gone = Q(wish__booking__isnull=False) & ~Q(wish__booking__status__in=MOVABLE)
    died = Q(wish__patient__died_on__isnull=False)
    over = Q(answer_by__lte=now) | ~Q(booking__status=Status.PENDING) | gone | died
    for pk in WaitingOffer.objects.unsettled().filter(over).order_by("pk").values_list("pk", flat=True):
        with transaction.atomic():
            try:
                held = lock_offer(pk)
            except OfferEnded:
                continue  # answered while this ran
            in_time = held.answer_by > now and held.booking.status == Status.PENDING
            settle(held, Answer.WITHDRAWN if in_time else Answer.LAPSED, actor=WAITLIST, now=now)
        done += 1
    return done


def end_wishes_due(*, now: datetime) -> None:
    """Whose last day has passed, who has died, or whose visit to move up does not stand any more."""
    gone = Q(booking__isnull=False) & (~Q(booking__status__in=MOVABLE) | Q(booking__starts_at__lte=now))
    # A day further east may have begun already: each is looked at by its own clock.
    over = Q(until_on__lte=now.date())
    died = Q(patient__died_on__isnull=False)
    for wish in (
        WaitingWish.objects.waiting()
        .filter(gone | over | died)
        .select_related("site", "booking", "patient")
        .order_by("pk")
    ):
        today = now.astimezone(wish.site.zone).date()
        if wish.patient.died_on is not None:
            end_wish(wish, because=WishEnd.REMOVED, actor=WAITLIST, now=now)
        elif wish.until_on is not None and wish.until_on < today:
            end_wish(wish, because=WishEnd.OVER, actor=WAITLIST, now=now)
        elif wish.booking is not None and (wish.booking.status not in MOVABLE or wish.booking.starts_at <= now):
            end_wish(wish, because=WishEnd.VISIT_GONE, actor=WAITLIST, now=now)


def _try(match: Match, now: datetime) -> WaitingOffer | None:
    try:
        return offer(match, now=now)
    except TOO_LATE:
        return None

"""What Today shows: who comes, whether each is clear to start, calls, and answers that worry."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef
from django.urls import reverse

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, may, sites_where
from clinic.diary import marks, own_changes
from clinic.diary.actions import LATE_CAN_BEGIN, can_take_back
from clinic.diary.acts import Offered, before_it_lapses, taking_back, usual
from clinic.diary.acts import not_confirmed as hear_of
from clinic.diary.clock_rules import shifted_visits
from clinic.diary.gaps import FreeGap, free_gaps
from clinic.diary.lapsing import lapsing_soon
from clinic.diary.models import COMING, Booking, LateQuestion, OwnChange, Status
from clinic.diary.outside import Outside, visits_outside
from clinic.diary.reading import bookings_on, day_bounds
from clinic.diary.running import RunsLate, runs_late
from clinic.diary.unconfirmed import not_confirmed
from clinic.diary.waitlist.reading import OnOffer, calls_to_make
from clinic.diary.working_days import working_days
from clinic.messages.health import Pulse, pulse
from clinic.messages.models import Call
from clinic.trail.clock import real_now
from whitening.casebook.downtime import next_day_with_visits
from whitening.casebook.early import EarlyTime, early_reviews, early_times
from whitening.casebook.today_live import due_calls, live_tag, open_letters, open_message_calls
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall.models import Escalation, FollowUp
from whitening.recall.waiting import Waiting, waiting
from whitening.screening.missing import to_do

SHOWN = 20
LAPSED_SHOWN_DAYS = 7  # common practice, no source
_NOT_READY = {"missing", "not-yet", "must-not", "unknown"}


@dataclass(frozen=True, slots=True)
class Today:
    day: date
    bookings: Sequence[Booking]
    marks: Mapping[int, marks.Mark]
    not_ready: int
    escalations: Sequence[Waiting]
    calls: Sequence[FollowUp]
    message_calls: Sequence[Call]
    # To be printed, or printed and not in the post yet.
    letters: int
    lapsed: Sequence[Booking]
    lapsing: Sequence[Booking]
    # Firm visits until the next working day of which nobody has heard.
    silent: Sequence[Booking]
    changes: Sequence[OwnChange]
    early: Sequence[EarlyTime]
    left_open: Sequence[Booking]
    offer_calls: Sequence[OnOffer]
    outside: Sequence[Outside]
    shifted: int
    local_rules: Sequence[str]
    # Of the visits at the chair: where it is closed, and nothing for whoever may not close it.
    running: Mapping[int, str]
    keys: Mapping[int, Sequence[Offered]]
    done: int | None
    can_be_late: Collection[int]
    runs_late: Sequence[RunsLate]
    gaps: Sequence[FreeGap]
    questions: Sequence[LateQuestion]
    tag: str
    # Whether messages go out as they should.
    pulse: Pulse
    may_answer: bool
    replies_read_at: frozenset[int]
    may_book: bool
    # The next day on which somebody comes: for it the downtime pack is printed.
    pack_day: date


def today(*, site: Site, user: User, now: datetime, done: int | None = None) -> Today:
    """done: the visit of which somebody has just said something here; it can be taken back at once."""
    # Asked first: what changes while the rest is read is then news to the next look.
    tag, day = live_tag(site, now=now), now.astimezone(site.zone).date()
    # A time that is only held is nobody who comes.
    bookings = [one for one in bookings_on(site, day, now=now) if one.status != Status.PENDING]
    # One that comes today stands there, with the same keys.
    next_days = working_days(site, now=now)
    lapsing = lapsing_soon(site, until_on=next_days[-1], now=now, done=done)
    silent = not_confirmed(site, until_on=next_days[0], now=now)
    also = [one for one in lapsing if one not in bookings]
    found = marks.marks_for([*bookings, *also], user=user, now=now)
    left_open, may_book = _left_open(site, day), may(user, Capability.DIARY_BOOK, site)
    running = _running([*bookings, *left_open], may_close=may(user, Capability.CHAIRSIDE_RECORD, site))
    reads_followups = may(user, Capability.FOLLOWUPS_READ, site)
    return Today(
        day=day,
        bookings=bookings,
        marks=found,
        not_ready=sum(one.pk in found and found[one.pk].kind in _NOT_READY for one in bookings),
        escalations=_escalations(site, now) if reads_followups else (),
        calls=_calls(site, now) if reads_followups else (),
        message_calls=_message_calls(site, now) if reads_followups else (),
        letters=open_letters(site, now).count() if may(user, Capability.MESSAGES_SEND, site) else 0,
        lapsed=_lapsed(site, day),
        lapsing=also,
        silent=silent,
        changes=own_changes.unseen(site),
        early=[*early_times(site, day), *early_reviews(site, day)][:SHOWN],
        left_open=left_open,
        offer_calls=calls_to_make(site, now=now),
        outside=visits_outside(site, now=now),
        shifted=len(shifted_visits(site, now=now)) if may_book else 0,
        local_rules=to_do(site, today=day) if may(user, Capability.SETUP, site) else (),
        running=running,
        keys=_all_keys(bookings, left_open, also, silent, found=found, running=running, done=done, user=user, now=now)
        if may_book
        else {},
        done=done,
        can_be_late=_can_be_late(bookings, now) if may_book else (),
        runs_late=runs_late(bookings, now=now),
        gaps=free_gaps(site, now=now) if may_book else (),
        questions=_questions(site, now),
        tag=tag,
        pulse=pulse(now=now, real_now=real_now()),
        may_answer=may(user, Capability.SESSION_CLOSE, site),
        replies_read_at=sites_where(user, Capability.REPLIES_READ),
        may_book=may_book,
        pack_day=next_day_with_visits(site, today=day),
    )


def _escalations(site: Site, now: datetime) -> list[Waiting]:
    rows = Escalation.objects.open().filter(case__site=site).select_related("case__patient", "owner")
    return waiting(rows[:SHOWN], now=now)


def _calls(site: Site, now: datetime) -> list[FollowUp]:
    return list(due_calls(site, now).select_related("case__patient", "owner", "session")[:SHOWN])


def _message_calls(site: Site, now: datetime) -> list[Call]:
    return list(open_message_calls(site, now).select_related("patient").order_by("wanted_at", "pk")[:SHOWN])


def _questions(site: Site, now: datetime) -> list[LateQuestion]:
    rows = LateQuestion.objects.standing(site=site, now=now)
    return list(rows.select_related("booking__patient", "booking__visit_type", "booking__site")[:SHOWN])


def _can_be_late(bookings: Sequence[Booking], now: datetime) -> set[int]:
    return {one.pk for one in bookings if one.status in LATE_CAN_BEGIN and one.ends_at > now}


def _undo(bookings: Sequence[Booking], done: int | None, user: User, now: datetime) -> dict[int, Sequence[Offered]]:
    just_done = [one for one in bookings if one.pk == done and can_take_back(one, actor=user.actor, now=now)]
    return {one.pk: [*usual(one, now=now, is_over=False), taking_back()] for one in just_done}


def _left_open(site: Site, day: date) -> list[Booking]:
    """Visits of earlier days of which nobody has said how they ended: the oldest first, none is forgotten."""
    start_at, _end_at = day_bounds(site, day)
    rows = Booking.objects.filter(site=site, status__in=COMING, ends_at__lte=start_at).exclude(status=Status.PENDING)
    return list(rows.select_related("patient", "visit_type", "site").order_by("starts_at", "pk")[:SHOWN])


def _running(bookings: Sequence[Booking], *, may_close: bool) -> dict[int, str]:
    """Their sessions are still open at the chair: there they are closed, and the visit with them."""
    rows = Session.objects.open().filter(booking__in=[booking.pk for booking in bookings])
    pairs = rows.values_list("booking_id", "pk")
    return {booking: reverse("chairside", args=[pk]) if may_close else "" for booking, pk in pairs}


def _all_keys(
    bookings: Sequence[Booking],
    left_open: Sequence[Booking],
    lapsing: Sequence[Booking],
    silent: Sequence[Booking],
    *,
    found: Mapping[int, marks.Mark],
    running: Collection[int],
    done: int | None,
    user: User,
    now: datetime,
) -> dict[int, Sequence[Offered]]:
    keys: dict[int, Sequence[Offered]] = {one.pk: usual(one, now=now, is_over=False) for one in bookings}
    keys |= _keys_of_pencils([*bookings, *lapsing], found, now)
    keys |= {one.pk: usual(one, now=now, is_over=True) for one in left_open}
    keys |= {one.pk: hear_of() for one in silent}
    keys = {pk: offered for pk, offered in keys.items() if pk not in running}
    return keys | _undo([*bookings, *lapsing], done, user, now)


def _keys_of_pencils(
    bookings: Sequence[Booking], found: Mapping[int, marks.Mark], now: datetime
) -> dict[int, Sequence[Offered]]:
    """No key that would only be refused: first it has to be agreed. A review is confirmed with its last session."""
    waits = {pk for pk, mark in found.items() if mark.not_agreed} | _behind_sessions([one.pk for one in bookings])
    stands = [one for one in bookings if one.status == Status.PROPOSED and one.lapses_at and one.lapses_at > now]
    return {one.pk: before_it_lapses(can_confirm=one.pk not in waits) for one in stands}


def _behind_sessions(ids: Sequence[int]) -> set[int]:
    sessions = CaseVisit.objects.filter(
        case=OuterRef("case"), purpose=VisitPurpose.SESSION, booking__status=Status.PROPOSED
    )
    reviews = CaseVisit.objects.filter(Exists(sessions), purpose=VisitPurpose.REVIEW, booking__in=ids)
    return set(reviews.values_list("booking_id", flat=True))


def _lapsed(site: Site, day: date) -> list[Booking]:
    """Pencilled times that lapsed, most of them in the evening: the desk reads it on the days after.

    Not of those who have another time meanwhile, or whose case is closed.
    """
    start_at, _end_at = day_bounds(site, day - timedelta(days=LAPSED_SHOWN_DAYS))
    again = Booking.objects.filter(patient=OuterRef("patient"), visit_type=OuterRef("visit_type"), status__in=COMING)
    ended = CaseVisit.objects.filter(booking=OuterRef("pk"), case__closed_at__isnull=False)
    rows = Booking.objects.filter(
        ~Exists(again), ~Exists(ended), site=site, status=Status.CANCELLED, cancelled_by="lapsed"
    ).filter(cancelled_at__gte=start_at)
    return list(rows.select_related("patient", "visit_type").order_by("-cancelled_at", "pk")[:SHOWN])

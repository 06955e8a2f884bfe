"""What Today shows: who comes, whether each is clear to start, calls, and answers that worry."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, may
from clinic.diary import marks
from clinic.diary.models import Booking, Status
from clinic.diary.reading import bookings_on, day_bounds
from clinic.messages.models import Call
from whitening.casebook.early import EarlyTime, early_times
from whitening.recall.models import Escalation, FollowUp, FollowUpState
from whitening.recall.waiting import Waiting, waiting

SHOWN = 20
_NOT_READY = {"missing", "not-yet", "must-not", "unknown"}


@dataclass(frozen=True, slots=True)
class Today:
    day: date
    bookings: Sequence[Booking]
    marks: Mapping[int, marks.Mark]
    not_ready: int
    escalations: Sequence[Waiting]
    calls: Sequence[FollowUp]
    message_calls: int
    lapsed: Sequence[Booking]
    early: Sequence[EarlyTime]
    may_read_replies: bool
    may_book: bool


def today(*, site: Site, user: User, now: datetime) -> Today:
    day = now.astimezone(site.zone).date()
    bookings = bookings_on(site, day)
    found = marks.marks_for(bookings, user=user, now=now)
    reads_followups = may(user, Capability.FOLLOWUPS_READ, site)
    return Today(
        day=day,
        bookings=bookings,
        marks=found,
        not_ready=sum(mark.kind in _NOT_READY for mark in found.values()),
        escalations=_escalations(site, now) if reads_followups else (),
        calls=_calls(site) if reads_followups else (),
        message_calls=Call.objects.filter(site=site).open().count() if reads_followups else 0,
        lapsed=_lapsed(site, day),
        early=early_times(site, day)[:SHOWN],
        may_read_replies=may(user, Capability.REPLIES_READ, site),
        may_book=may(user, Capability.DIARY_BOOK, site),
    )


def _escalations(site: Site, now: datetime) -> list[Waiting]:
    rows = Escalation.objects.open().filter(case__site=site).select_related("case__patient", "owner")
    return waiting(rows[:SHOWN], now=now)


def _calls(site: Site) -> list[FollowUp]:
    rows = FollowUp.objects.filter(case__site=site, state=FollowUpState.CALL)
    return list(rows.select_related("case__patient", "owner", "session")[:SHOWN])


def _lapsed(site: Site, day: date) -> list[Booking]:
    """Pencilled times that lapsed today: the desk is told too."""
    start_at, end_at = day_bounds(site, day)
    rows = Booking.objects.filter(
        site=site, status=Status.CANCELLED, cancelled_by="lapsed", cancelled_at__gte=start_at, cancelled_at__lt=end_at
    )
    return list(rows.select_related("patient", "visit_type")[:SHOWN])

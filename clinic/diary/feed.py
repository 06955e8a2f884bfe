"""What a calendar program is given: the visits of one room or one person, and nothing about who comes or why.

Two weeks back and ninety days ahead. Three queries at most, however many visits; the words are made only
when something differs from what the program already holds.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.metadata import version
from zoneinfo import ZoneInfo

from django.db.models import Max, Min, QuerySet
from django.utils import translation
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vText

from clinic.diary import zone_rules
from clinic.diary.actions.stepping import RELEASED
from clinic.diary.engine.working import instant
from clinic.diary.models import HOLDING, LONGEST, Booking, CalendarFeed, Need, ResourceClaim, ResourceKind, Status

BEHIND, AHEAD = timedelta(days=14), timedelta(days=90)
# A time held during a telephone call is gone, or a visit, before a program asks again.
_SHOWN = [status for status in HOLDING if status != Status.PENDING]
# Raised when the same visits would be written otherwise, so that nobody keeps the older shape.
_SHAPE = "1"
_COLUMNS = ("booking_id", "booking__uid", "booking__sequence", "booking__status", "booking__visit_type__name")


@dataclass(frozen=True, slots=True)
class Entry:
    """One visit as far as it holds this room or person: from its first claim to the end of its last."""

    booking_id: int
    uid: str
    sequence: int
    status: str
    kind: str
    starts_at: datetime
    ends_at: datetime
    room: str
    initials: str


@dataclass(frozen=True, slots=True)
class Contents:
    """Everything the file is made of, so that equal contents are the same file."""

    title: str
    place: str
    zone: str
    first_on: date
    last_on: date
    entries: Sequence[Entry]

    @property
    def etag(self) -> str:
        """Strong enough to tell two files apart, and weak by its kind: when it was fetched stands inside."""
        facts = repr((_SHAPE, version("tzdata"), translation.get_language(), self))
        return f'W/"{hashlib.sha256(facts.encode()).hexdigest()[:32]}"'


def read(feed: CalendarFeed, *, now: datetime) -> Contents:
    site = feed.resource.site
    today = now.astimezone(site.zone).date()
    first_on, last_on = today - BEHIND, today + AHEAD
    start_at = instant(first_on, time(0), site.zone)
    end_at = instant(last_on + timedelta(days=1), time(0), site.zone)
    entries = [*_standing(feed, start_at, end_at), *_cancelled(feed, start_at, end_at)]
    return Contents(
        title=f"{feed.resource.name} · {site.name}",
        place=site.name,
        zone=site.timezone,
        first_on=first_on,
        last_on=last_on,
        entries=sorted(_with_rooms(feed, entries), key=lambda entry: (entry.starts_at, entry.booking_id)),
    )


def write(contents: Contents, *, now: datetime) -> bytes:
    """One VCALENDAR in the language that is active. Without METHOD: it is looked at, and asks nobody anything."""
    calendar = Calendar()
    calendar.add("prodid", "-//Whitening Casebook//Appointments//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # The standard's words (RFC 7986) and those that were in use before it.
    calendar.add("name", contents.title)
    calendar.add("x-wr-calname", contents.title)
    calendar.add("refresh-interval", timedelta(hours=1), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", "PT1H")
    first, last = contents.first_on.replace(month=1, day=1), contents.last_on.replace(month=12, day=31)
    zone = ZoneInfo(contents.zone)
    calendar.add_component(zone_rules.rules(zone, first_on=first, last_on=last))
    for entry in contents.entries:
        event = _event(entry, contents.place, now)
        zone_rules.put_times(event, start_at=entry.starts_at, end_at=entry.ends_at, zone=zone)
        calendar.add_component(event)
    content: bytes = calendar.to_ical()
    return content


def _event(entry: Entry, place: str, now: datetime) -> Event:
    event = Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("dtstamp", now)
    event.add("summary", _summary(entry))
    event.add("location", vText(f"{entry.room}, {place}" if entry.room else place))
    event.add("status", _status(entry))
    event.add("transp", "TRANSPARENT" if entry.status == Status.CANCELLED else "OPAQUE")
    # Whoever shares the calendar they put it into shares the times and no more.
    event.add("class", "PRIVATE")
    return event


def _summary(entry: Entry) -> str:
    """Said in words too: not every program shows the status, and some show it by a colour alone."""
    visit = f"{entry.kind} · {entry.initials}" if entry.initials else entry.kind
    if entry.status == Status.CANCELLED:
        return _("Cancelled: %(visit)s") % {"visit": visit}
    return _("Pencilled: %(visit)s") % {"visit": visit} if entry.status == Status.PROPOSED else visit


def _status(entry: Entry) -> str:
    if entry.status == Status.CANCELLED:
        return "CANCELLED"
    return "TENTATIVE" if entry.status == Status.PROPOSED else "CONFIRMED"


def _standing(feed: CalendarFeed, start_at: datetime, end_at: datetime) -> list[Entry]:
    """The window is said of the claims and of their bookings, so that of neither the years before are read."""
    claims = feed.resource.claims.filter(
        active=True,
        start_at__gte=start_at - LONGEST,
        start_at__lt=end_at + LONGEST,
        booking__in=_bookings(feed, start_at, end_at).filter(status__in=_SHOWN),
    )
    return _entries(feed, claims, start_at, end_at)


def _cancelled(feed: CalendarFeed, start_at: datetime, end_at: datetime) -> list[Entry]:
    """Times inside the window that were given up inside it; what was given up before has been fetched since."""
    given_up = _bookings(feed, start_at, end_at).filter(status=Status.CANCELLED, cancelled_at__gte=start_at)
    claims = feed.resource.claims.filter(active=False, booking__in=given_up.exclude(cancelled_by=RELEASED))
    return _entries(feed, claims, start_at, end_at)


def _bookings(feed: CalendarFeed, start_at: datetime, end_at: datetime) -> QuerySet[Booking]:
    return Booking.objects.filter(site=feed.resource.site_id, starts_at__gte=start_at - LONGEST, starts_at__lt=end_at)


def _entries(feed: CalendarFeed, claims: QuerySet[ResourceClaim], start_at: datetime, end_at: datetime) -> list[Entry]:
    """One row for each booking. The patient's table is asked only where initials were chosen."""
    columns = (*_COLUMNS, "booking__patient__name") if feed.with_initials else _COLUMNS
    stretches = claims.order_by().values_list(*columns).annotate(first=Min("start_at"), last=Max("end_at"))
    return [
        Entry(
            booking_id=booking_id,
            uid=f"{uid}-{feed.resource_id}",
            sequence=sequence,
            status=status,
            kind=kind,
            starts_at=first.astimezone(UTC),
            ends_at=last.astimezone(UTC),
            room="",
            initials=initials_of(name[0]) if name else "",
        )
        for booking_id, uid, sequence, status, kind, *name, first, last in stretches.filter(
            first__gte=start_at, first__lt=end_at
        )
    ]


def _with_rooms(feed: CalendarFeed, entries: Sequence[Entry]) -> list[Entry]:
    if feed.resource.kind == ResourceKind.ROOM:
        return [replace(entry, room=feed.resource.name) for entry in entries]
    ids = [entry.booking_id for entry in entries]
    claims = ResourceClaim.objects.filter(booking__in=ids, need=Need.ROOM).order_by("-start_at", "-pk")
    # Backwards, so that of several rooms the first one stays.
    rooms = dict(claims.values_list("booking_id", "resource__name"))
    return [replace(entry, room=rooms.get(entry.booking_id, "")) for entry in entries]


def initials_of(name: str) -> str:
    """The first letters of the first and the last word."""
    words = name.split()
    return "".join(word[0].upper() for word in (words[:1] + words[1:][-1:]))

"""The list of a day on paper: who comes when, to which room and to whom, and whether they may start."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import day_words
from clinic.accounts.marks import MARKS
from clinic.accounts.models import Site, User
from clinic.accounts.naming import initials
from clinic.accounts.rights import Capability, may
from clinic.diary import marks
from clinic.diary.day import Column
from clinic.diary.models import Booking, ResourceKind, Status
from clinic.diary.reading import read_day
from clinic.documents.actions import Prepared, print_out
from clinic.trail.actor import Actor

KIND = "day_list"


@dataclass(frozen=True, slots=True)
class Line:
    """One visit. mark: the word of its gate mark; missing: what it says without any clinical reason."""

    booking: Booking
    name: str
    where: str
    people: str
    mark: str
    missing: Sequence[StrOrPromise]


def print_day(
    *, site: Site, day: date, user: User, names_hidden: bool, actor: Actor, now: datetime, large_print: bool = False
) -> Prepared:
    """Names are printed for whoever may read the register and has not hidden them on the screen; otherwise initials."""
    with_names = not names_hidden and may(user, Capability.PATIENTS_READ, site)
    lines = read_lines(site=site, day=day, user=user, with_names=with_names, now=now)
    return print_out(
        kind=KIND,
        site=site,
        context={"lines": lines, "day": day, "with_names": with_names},
        language=user.language,
        title=_("Day list, %(day)s") % {"day": day_words(day)},
        subject=("diary", day.isoformat()),
        actor=actor,
        now=now,
        large_print=large_print,
    )


def read_lines(*, site: Site, day: date, user: User, with_names: bool, now: datetime) -> list[Line]:
    """In order of time; a visit that holds no room is among them. A held time is not: paper lasts longer."""
    read = read_day(site, day, kind=ResourceKind.ROOM, chosen=None, now=now)
    found = marks.marks_for(read.bookings, user=user, now=now)
    rooms = _rooms(read.columns)
    lines = []
    for booking in (one for one in read.bookings if one.status != Status.PENDING):
        where, people = rooms.get(booking.pk, ("", ""))
        mark = found.get(booking.pk)
        name = booking.patient.name if with_names else initials(booking.patient.name)
        lines.append(
            Line(booking, name, where, people, str(MARKS[mark.kind].word) if mark else "", mark.lines if mark else ())
        )
    return lines


def _rooms(columns: Iterable[Column]) -> dict[int, tuple[str, str]]:
    """By booking: its room or rooms, and who is there with it."""
    found: dict[int, tuple[str, str]] = {}
    for column, booking_pk, people in _places(columns):
        before = found.get(booking_pk)
        found[booking_pk] = (f"{before[0]} · {column.name}" if before else column.name, people)
    return found


def _places(columns: Iterable[Column]) -> Iterator[tuple[Column, int, str]]:
    for column in columns:
        # Each room once, however often the visit comes back to it.
        yield from (
            (column, pk, people) for pk, people in {one.booking.pk: one.others for one in column.placed}.items()
        )

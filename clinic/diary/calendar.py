"""Invitations for the patient's own calendar (RFC 5545 and RFC 5546), with the zone's rules inside.

The UID never changes, SEQUENCE rises with each change of time, so that an ordinary calendar program
moves or removes the entry it already has. The summary may show on a lock screen: it holds no clinical word.
"""

from datetime import date, datetime
from typing import Literal

from django.conf import settings
from django.utils.translation import gettext as _
from icalendar import Event, vCalAddress, vText

from clinic.diary import naming, zone_rules
from clinic.diary.models import Booking, Status

Method = Literal["REQUEST", "CANCEL"]
# The same around every invitation.
_BEGINS = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Whitening Casebook//Appointments//EN\r\nMETHOD:%b\r\n"
_ENDS = b"END:VCALENDAR\r\n"


def invitation(booking: Booking, *, method: Method, now: datetime) -> bytes:
    """One VEVENT with its VTIMEZONE as UTF-8 bytes."""
    year = booking.wall_on.year
    rules = zone_rules.as_text(booking.site.zone, date(year, 1, 1), date(year + 1, 12, 31))
    return b"".join((_BEGINS % method.encode("ascii"), rules, _event(booking, method, now).to_ical(), _ENDS))


def _event(booking: Booking, method: Method, now: datetime) -> Event:
    event = Event()
    # No host name in it: a practice that moves to another address must not lose its entries (RFC 7986, 5.3).
    event.add("uid", str(booking.uid))
    event.add("sequence", booking.sequence)
    event.add("dtstamp", now)
    zone_rules.put_times(event, start_at=booking.starts_at, end_at=booking.ends_at, zone=booking.site.zone)
    event.add("summary", _summary(booking))
    event.add("status", _event_status(booking, method))
    if booking.site.address:
        event.add("location", vText(" ".join(booking.site.address.split())))
    event.add("organizer", _organizer(booking))
    if booking.patient.email:
        event.add("attendee", _attendee(booking), encode=False)
    return event


def _summary(booking: Booking) -> str:
    visit = naming.told(booking.visit_type)
    if visit:
        return _("%(visit)s at %(practice)s") % {"visit": visit, "practice": booking.site.name}
    return _("Appointment at %(practice)s") % {"practice": booking.site.name}


def _event_status(booking: Booking, method: Method) -> str:
    if method == "CANCEL":
        return "CANCELLED"
    return "TENTATIVE" if booking.status == Status.PROPOSED else "CONFIRMED"


def _organizer(booking: Booking) -> vCalAddress:
    address = vCalAddress(f"MAILTO:{booking.site.email or settings.DEFAULT_FROM_EMAIL}")
    address.params["CN"] = vText(booking.site.name)
    return address


def _attendee(booking: Booking) -> vCalAddress:
    """A request names whom it asks (RFC 5546, 3.2.2); the time is agreed already, so no answer is asked for."""
    address = vCalAddress(f"MAILTO:{booking.patient.email}")
    address.params["ROLE"] = vText("REQ-PARTICIPANT")
    address.params["PARTSTAT"] = vText("ACCEPTED")
    address.params["RSVP"] = vText("FALSE")
    return address

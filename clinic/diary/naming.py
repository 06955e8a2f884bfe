"""What a patient reads of a visit: its name in the practice's plain words, never the trade's, and its time."""

from django.utils.translation import get_language

from clinic.accounts.dates import clock_words, day_words, moment_words
from clinic.diary.models import Booking, VisitType
from clinic.messages.words import clinical_words


def told(visit_type: VisitType) -> str:
    """For mails and calendars, which show on locked screens: empty where a word says what is done to whom."""
    name = visit_type.patient_name
    return "" if clinical_words(name, get_language() or "en") else name


def wall_words(booking: Booking) -> str:
    """As in "Tue 3 Mar 2026, 14:30", on the wall clock that was agreed, in the language that is active."""
    return f"{day_words(booking.wall_on)}, {clock_words(booking.wall_time)}"


def lapse_words(booking: Booking) -> str:
    """Until when a pencilled time is held; empty for any other."""
    return moment_words(booking.lapses_at, booking.site.zone) if booking.lapses_at else ""

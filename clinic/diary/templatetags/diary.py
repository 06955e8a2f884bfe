"""Times of a booking as words, on the wall clock that was agreed with the patient."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from django import template
from django.template import Context
from django.utils.dates import WEEKDAYS
from django.utils.formats import number_format
from django.utils.translation import gettext, ngettext

from clinic.accounts.dates import clock_words, day_words
from clinic.diary import naming
from clinic.diary.acts import KEYS, Offered
from clinic.diary.late import Late, what_fits
from clinic.diary.late_words import late_sentence
from clinic.diary.marks import Mark
from clinic.diary.models import Booking, Closure, LateQuestion, Status

register = template.Library()


@register.simple_tag
def wall_time(booking: Booking) -> str:
    return naming.wall_words(booking)


@register.simple_tag
def lapse_time(booking: Booking) -> str:
    return naming.lapse_words(booking)


@register.simple_tag(takes_context=True)
def status_words(context: Context, booking: Booking) -> str:
    """The status; of a held time who holds it and until when, so that other desks know whom to ask."""
    if booking.status != Status.PENDING or booking.lapses_at is None:
        # get_status_display would put all the choices through a hash first: a fifth of the day's page.
        return str(Status(booking.status).label)
    until = clock_words(booking.lapses_at, booking.site.zone)
    if booking.booked_by_actor == context["request"].user.actor.id:
        return gettext("held by you until %(until)s") % {"until": until}
    return gettext("held by %(who)s until %(until)s") % {"who": booking.booked_by, "until": until}


@register.simple_tag
def time_left(booking: Booking, now: datetime) -> str:
    """How long a held time is still held, in whole minutes that have not begun to run out."""
    left = booking.lapses_at - now if booking.lapses_at else timedelta()
    whole = left // timedelta(minutes=1)
    if whole >= 1:
        return ngettext("%(count)d minute left", "%(count)d minutes left", whole) % {"count": whole}
    return gettext("less than a minute left") if left > timedelta() else gettext("it has run out")


@register.filter
def working_hours(minutes: int) -> str:
    """`36 h 30 min`, never days: a day of 24 hours is nobody's working day."""
    hours, rest = divmod(minutes, 60)
    if not rest:
        return gettext("%(hours)d h") % {"hours": hours}
    return gettext("%(hours)d h %(minutes)02d min") % {"hours": hours, "minutes": rest}


@register.simple_tag
def mark_of(booking: Booking, marks: dict[int, Mark]) -> Mark | None:
    """The gate mark of this booking, or None where nobody has anything to say about it."""
    return marks.get(booking.pk)


@register.simple_tag
def keys_of(booking: Booking, keys: dict[int, list[Offered]]) -> list[Offered]:
    """What one press can make of this booking from a list."""
    return keys.get(booking.pk, [])


@register.simple_tag
def chair_of(booking: Booking, running: dict[int, str]) -> str:
    """Where the session of this booking is closed; empty for whoever may not do it."""
    return running[booking.pk]


@register.simple_tag
def here_for(booking: Booking, now: datetime) -> timedelta | None:
    """How long somebody has been waiting; None for whoever is not here, or not waiting any more."""
    if booking.status != Status.ARRIVED or booking.arrived_at is None:
        return None
    return max(now - booking.arrived_at, timedelta()) // timedelta(minutes=1) * timedelta(minutes=1)


@register.simple_tag
def key_of(code: str) -> str:
    """The key that does this act for the visit that has the focus; empty where an act has none."""
    return KEYS.get(code, "")


@register.simple_tag
def late_by_now(question: LateQuestion, now: datetime) -> Late:
    """What fits by now."""
    return what_fits(question.booking, here_at=question.here_at, now=now)


@register.filter
def late_says(late: Late) -> str:
    return late_sentence(late)


@register.simple_tag
def percent(part: float) -> str:
    """A share in percent; below ten with one decimal."""
    value = round(100 * part, 1)
    return gettext("%(number)s %%") % {"number": number_format(value, decimal_pos=0 if value >= 10 else 1)}


@register.simple_tag
def weekday(number: int) -> str:
    """Monday is 0, as in Python's date.weekday()."""
    return str(WEEKDAYS[number])


@register.simple_tag
def told(booking: Booking) -> str:
    """What a mail calls the visit; empty where that would say too much."""
    return naming.told(booking.visit_type)


@register.simple_tag(takes_context=True)
def loosened(context: Context, without: Sequence[str]) -> str:
    """The address's own question without some of its fields."""
    asked = context["request"].GET.copy()
    for name in without:
        asked.pop(name, None)
    return str(asked.urlencode())


@register.simple_tag
def closure_time(closure: Closure) -> str:
    """Whole days as days, hours of one day as hours, on the wall clock of the site."""
    zone = closure.site.zone
    start, end = closure.starts_at.astimezone(zone), closure.ends_at.astimezone(zone)
    if start.time() == end.time() == time(0):
        first, last = start.date(), end.date() - timedelta(days=1)
        return day_words(first) if first == last else f"{day_words(first)} – {day_words(last)}"
    if start.date() == end.date():
        return f"{day_words(start)}, {clock_words(start)}–{clock_words(end)}"
    return f"{day_words(start)}, {clock_words(start)} – {day_words(end)}, {clock_words(end)}"

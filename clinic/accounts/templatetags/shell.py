"""Words and marks that every page writes the same way."""

from datetime import date, datetime, time, timedelta, tzinfo
from functools import lru_cache

from django import template
from django.forms import BaseForm, BoundField
from django.template import Context
from django.template.loader import render_to_string
from django.utils.functional import Promise
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext, ngettext, pgettext

from clinic.accounts import dates
from clinic.accounts.marks import LEVEL_SHAPES, MARKS
from clinic.accounts.naming import initials
from clinic.accounts.wording import say

register = template.Library()

# From so many hours on, days are easier to grasp.
IN_DAYS = 48
# What stands in the place of a number, an address or a day of birth while names are hidden.
HIDDEN = "•••"


@register.simple_tag
def mark(
    kind: str, *, word: str | Promise | None = None, detail: str | Promise | None = None, initials: str | None = None
) -> SafeString:
    """A mark with its word. An unknown kind is a slip of the template's author, so it raises."""
    known = MARKS[kind]
    told = None if detail is None else str(detail)
    return _drawn(known.shape, str(word or known.word), told, initials)


@lru_cache(maxsize=512)
def _drawn(shape: str, word: str, detail: str | None, initials: str | None) -> SafeString:
    """A page of the diary shows the same few marks a hundred times. The words are those of one language already."""
    context = {"shape": shape, "word": word, "detail": detail, "initials": initials}
    return mark_safe(render_to_string("shell/_mark.html", context))  # noqa: S308  (a template's own output)


@register.inclusion_tag("shell/_mark.svg.html")
def mark_shape(shape: str) -> dict[str, object]:
    """Only the shape, for places whose own sentence already says the word."""
    return {"shape": shape}


@register.inclusion_tag("shell/_mark.svg.html")
def message_mark(level: str) -> dict[str, object]:
    return {"shape": LEVEL_SHAPES[level]}


@register.simple_tag(takes_context=True)
def moment(context: Context, value: datetime) -> SafeString:
    """`Tue 3 Mar 2026, 14:30` on the clock of the site, as an element."""
    return _time_element(value, dates.moment_words(value, _zone(context)))


@register.simple_tag(takes_context=True)
def clock(context: Context, value: datetime) -> SafeString:
    """`14:30` on the clock of the site, as an element."""
    return _time_element(value, dates.clock_words(value, _zone(context)))


@register.simple_tag(takes_context=True)
def day(context: Context, value: date | datetime) -> SafeString:
    """`Tue 3 Mar 2026`, as an element; of a moment, the day it falls on at the site."""
    return _time_element(dates.local_day(value, _zone(context)), dates.day_words(value, _zone(context)))


@register.simple_tag(takes_context=True)
def moment_words(context: Context, value: datetime) -> str:
    """The words of `moment` alone, for a title, a mail, or (`as`) the middle of a sentence."""
    return dates.moment_words(value, _zone(context))


@register.simple_tag(takes_context=True)
def clock_words(context: Context, value: datetime | time) -> str:
    return dates.clock_words(value, _zone(context))


@register.simple_tag(takes_context=True)
def time_words(context: Context, value: datetime, beside: datetime) -> str:
    """The clock alone where the reader knows the day from the other moment; with its day where it is another one."""
    return dates.time_words(value, beside=beside, zone=_zone(context))


@register.simple_tag(takes_context=True)
def day_words(context: Context, value: date | datetime) -> str:
    return dates.day_words(value, _zone(context))


@register.simple_tag
def birth_day(value: date) -> SafeString:
    """`3 Mar 1990`, as an element on a screen: it tells who somebody is, so it is hidden with the names."""
    return personal(_time_element(value, dates.birth_words(value)))


@register.simple_tag
def birth_day_printed(value: date) -> SafeString:
    """The same on paper, where nothing is hidden."""
    return _time_element(value, dates.birth_words(value))


@register.filter
def minutes(value: float | timedelta) -> str:
    """`25 min`, `1 h 05 min`, `4 days 14 h`; a part of the last one counts whole: nobody is told too little time."""
    seconds = value.total_seconds() if isinstance(value, timedelta) else value * 60
    hours, rest = divmod(int(-(-seconds // 60)), 60)
    if hours >= IN_DAYS:
        days, left = divmod(hours + (rest > 0), 24)
        said = ngettext("%(days)d day", "%(days)d days", days) % {"days": days}
        return gettext("%(days)s %(hours)d h") % {"days": said, "hours": left} if left else said
    if not hours:
        return gettext("%(minutes)d min") % {"minutes": rest}
    if not rest:
        return gettext("%(hours)d h") % {"hours": hours}
    return gettext("%(hours)d h %(minutes)02d min") % {"hours": hours, "minutes": rest}


@register.filter
def stopwatch(value: float | timedelta) -> SafeString:
    """`04:32`, for a clock that is running."""
    total = int(value.total_seconds() if isinstance(value, timedelta) else value)
    return ltr(f"{total // 60:02d}:{total % 60:02d}")


@register.filter
def ltr(value: object) -> SafeString:
    """Digits, codes, telephone numbers: same width, and never turned round by the text about them."""
    return format_html('<bdi class="digits" dir="ltr">{}</bdi>', value)


@register.filter
def person(value: object) -> SafeString:
    """A person's name: keeps its own direction; while names are hidden only the initials are seen."""
    return format_html('<bdi class="person" data-person="{}">{}</bdi>', initials(str(value)), value)


@register.filter
def personal(value: object) -> SafeString:
    """What else tells who somebody is, such as an address or a day of birth: while names are hidden, dots."""
    return format_html('<bdi data-person="{}">{}</bdi>', HIDDEN, value)


@register.filter
def personal_number(value: object) -> SafeString:
    """A patient's telephone number: kept from being turned round like any number, and hidden with the names."""
    return personal(ltr(value))


@register.filter
def from_to(start: object, end: object) -> str:
    """A stretch such as `28 to 42`, in words, because a dash between digits turns round in Arabic."""
    return pgettext("a stretch of numbers, days or times", "%(start)s to %(end)s") % {"start": start, "end": end}


@register.filter
def problems(field: BoundField) -> list[str]:
    """What is wrong with one field, each with what to do next."""
    return [sentence for error in field.errors.as_data() for sentence in say(error, field.field.widget)]


@register.filter
def problem_count(form: BaseForm) -> int:
    return sum(len(errors) for errors in form.errors.values())


@register.filter
def control_id(field: BoundField) -> str:
    """Where a link of the error list leads: the control, or the first one of a group of choices."""
    return field.id_for_label or f"{field.auto_id}_0"


def _zone(context: Context) -> tzinfo | None:
    """The zone of the page's site; nothing in a mail or on a sheet, which are written in the zone that is active."""
    shell = context.get("shell")
    return shell.zone if shell is not None else None


def _time_element(value: date | datetime, words: str) -> SafeString:
    return format_html('<time class="digits" datetime="{}">{}</time>', value.isoformat(), words)

"""What fits when a patient is late, as one sentence and as words on buttons."""

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import clock_words
from clinic.diary.late import Late

NUMBERS: dict[int, StrOrPromise] = {
    1: gettext_lazy("one"),
    2: gettext_lazy("two"),
    3: gettext_lazy("three"),
    4: gettext_lazy("four"),
    5: gettext_lazy("five"),
    6: gettext_lazy("six"),
}


def number_words(count: int) -> str:
    return str(NUMBERS.get(count, count))


def late_sentence(late: Late) -> str:
    """Such as "Here at 10:20: three cycles fit before 11:40, four do not."."""
    said = {"time": _clock(late, late.here_at), "fits": _fits(late)}
    return _("Here at %(time)s: %(fits)s") % said


def why_not_more(late: Late) -> str:
    """Who or what is not there any longer then; empty where nothing in particular stands in the way."""
    if late.resource is None or late.until is None or late.all_fit:
        return ""
    said = {"name": late.resource.name, "time": _clock(late, late.until)}
    return _("%(name)s is free for this visit until %(time)s.") % said


def begin_words(late: Late) -> str:
    """On the button that begins with what fits."""
    if not late.booking.agreed_cycles:
        return _("Begin then")
    if late.all_fit:
        return _("All %(number)s") % {"number": number_words(late.booking.agreed_cycles)}
    return number_words(late.most or 0).capitalize()


def _fits(late: Late) -> str:
    if late.late_minutes == 0:
        return _("in time for the chair, nothing has to change.")
    if not late.booking.agreed_cycles:
        return _whole(late)
    return _some(late) if late.cycles else _none(late)


def _whole(late: Late) -> str:
    if late.cycles:
        return _("the whole visit fits.")
    if late.until is None:
        return _("the visit does not fit any more.")
    return _("the visit does not fit before %(until)s.") % {"until": _clock(late, late.until)}


def _some(late: Late) -> str:
    most = late.most or 0
    if late.all_fit:
        words = ngettext("the one cycle fits.", "all %(number)s cycles fit.", most)
        return words % {"number": number_words(most)} if most > 1 else words
    said = {"number": number_words(most), "more": number_words(most + 1), "until": ""}
    if late.until is None:
        words = ngettext("%(number)s cycle fits, %(more)s do not.", "%(number)s cycles fit, %(more)s do not.", most)
        return words % said
    said["until"] = _clock(late, late.until)
    words = ngettext(
        "%(number)s cycle fits before %(until)s, %(more)s do not.",
        "%(number)s cycles fit before %(until)s, %(more)s do not.",
        most,
    )
    return words % said


def _none(late: Late) -> str:
    if late.until is None:
        return _("not even one cycle fits any more.")
    return _("not even one cycle fits before %(until)s.") % {"until": _clock(late, late.until)}


def _clock(late: Late, at: datetime) -> str:
    return clock_words(at, late.booking.site.zone)

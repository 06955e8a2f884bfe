"""The waiting list in words: what suits, and why a time is offered to this person."""

from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext as _

from clinic.accounts.dates import clock_words, day_words
from clinic.diary.models import WaitingOffer, WaitingWish


def times_words(wish: WaitingWish) -> str:
    """`Tuesday, Thursday, over by 12:00`; `any time` where nothing was wished for."""
    days = ", ".join(str(WEEKDAYS[int(day)]) for day in wish.weekdays)
    return ", ".join(part for part in (days, _hours(wish)) if part) or _("any time")


def _hours(wish: WaitingWish) -> str:
    if wish.not_before and wish.over_by:
        between = {"first": clock_words(wish.not_before), "last": clock_words(wish.over_by)}
        return _("between %(first)s and %(last)s") % between
    if wish.not_before:
        return _("from %(first)s on") % {"first": clock_words(wish.not_before)}
    return _("over by %(last)s") % {"last": clock_words(wish.over_by)} if wish.over_by else ""


def reasons(offer: WaitingOffer) -> list[str]:
    """Why this person, in the order of the rule: it fits, clear to start by then, waited longest."""
    since = _("waiting since %(day)s") % {"day": day_words(offer.wish.since_on)}
    fits = _("fits: %(times)s") % {"times": times_words(offer.wish)}
    return [part for part in (fits, offer.clear_words, since) if part]

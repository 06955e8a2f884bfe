"""What one press makes of a visit: here, in the chair, finished, did not come; and when each is offered."""

from collections.abc import Callable
from datetime import datetime

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import moment_words
from clinic.diary import actions, confirming, under_way
from clinic.diary.models import COMING, Booking, Status, VisitCode
from clinic.diary.refusals import NotItsTime, RecordOpen
from clinic.trail.actor import Actor

Act = Callable[[Booking, Actor, datetime], Booking]
ACTS: dict[str, tuple[Act, StrOrPromise, frozenset[Status]]] = {
    "confirm": (
        lambda booking, actor, at: confirming.confirm(booking=booking, actor=actor, now=at),
        _("Confirm"),
        frozenset({Status.PROPOSED}),
    ),
    "give-up": (
        lambda booking, actor, at: actions.give_up(booking=booking, actor=actor, now=at),
        _("Let it go"),
        frozenset({Status.PROPOSED}),
    ),
    "book-held": (
        lambda booking, actor, at: actions.book_held(booking=booking, actor=actor, now=at),
        _("Book it"),
        frozenset({Status.PENDING}),
    ),
    "let-go": (
        lambda booking, actor, at: actions.let_go(booking=booking, actor=actor, now=at),
        _("Let it go"),
        frozenset({Status.PENDING}),
    ),
    "comes": (
        lambda booking, actor, at: actions.hear_that_they_come(booking=booking, actor=actor, now=at),
        _("Comes"),
        frozenset({Status.BOOKED}),
    ),
    "arrive": (
        lambda booking, actor, at: actions.arrive(booking=booking, actor=actor, now=at),
        _("Here now"),
        frozenset({Status.BOOKED}),
    ),
    "check-in": (
        lambda booking, actor, at: actions.check_in(booking=booking, actor=actor, now=at),
        _("In the chair"),
        frozenset({Status.ARRIVED}),
    ),
    "finish": (
        lambda booking, actor, at: actions.finish(booking=booking, actor=actor, now=at),
        _("Finished"),
        frozenset({Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}),
    ),
    "no-show": (
        lambda booking, actor, at: actions.no_show(booking=booking, actor=actor, now=at),
        _("Did not come"),
        frozenset({Status.BOOKED}),
    ),
    "take-back": (
        lambda booking, actor, at: actions.take_back(booking=booking, actor=actor, now=at),
        _("Take it back"),
        actions.TAKEN_BACK,
    ),
}
Offered = tuple[str, StrOrPromise]
_ENDS = frozenset({"finish", "no-show"})
# One key for each usual act in a list of visits; the visit that has the focus is meant.
KEYS = {
    "confirm": "y",
    "give-up": "g",
    "comes": "k",
    "arrive": "a",
    "check-in": "c",
    "finish": "e",
    "no-show": "x",
    "take-back": "u",
}


def press(code: str, booking: Booking, *, actor: Actor, now: datetime) -> Booking:
    """From a page that may be old: the visit may have been moved since, or have begun.

    Raises NotItsTime and RecordOpen, and what the act raises.
    """
    if code in _ENDS and under_way.open_record(booking) is not None:
        raise RecordOpen
    if booking.status in COMING and code in _not_yet(booking, now):
        raise NotItsTime(when=moment_words(booking.starts_at, booking.site.zone))
    return ACTS[code][0](booking, actor, now)


def _not_yet(booking: Booking, now: datetime) -> set[str]:
    """Nobody can say how a visit ended whose time has not come, and nobody is here for one of another day."""
    ends = set(_ENDS) if booking.starts_at > now and booking.status != Status.CHECKED_IN else set()
    of_another_day = booking.wall_on > now.astimezone(booking.site.zone).date()
    return ends | ({"arrive", "check-in"} if of_another_day else set())


def possible(booking: Booking, *, actor: Actor, now: datetime) -> list[Offered]:
    """Everything that its page offers."""
    # A held time is in the hands of the desk that holds it.
    hidden = set() if booking.booked_by_actor == actor.id else {"book-held", "let-go"}
    # Its page asks who cancels, and why.
    hidden |= {"give-up"}
    if not actions.can_take_back(booking, actor=actor, now=now):
        hidden |= {"take-back"}
    hidden |= _not_yet(booking, now)
    if under_way.open_record(booking) is not None:
        hidden |= _ENDS
    if booking.accepted_at is not None or booking.wall_on <= now.astimezone(booking.site.zone).date():
        hidden |= {"comes"}
    found = [(code, word) for code, (_do, word, allowed) in ACTS.items() if booking.status in allowed]
    return [(code, word) for code, word in found if code not in hidden]


def usual(booking: Booking, *, now: datetime, is_over: bool) -> list[Offered]:
    """The one or two that a list of visits offers beside each. is_over: its day has passed."""
    codes = {
        Status.BOOKED: _of_booked(booking, now, is_over=is_over),
        # Into the chair of a treatment leads the chair's own start.
        Status.ARRIVED: ("finish",) if is_over else () if _is_treatment(booking) else ("check-in",),
        Status.CHECKED_IN: ("finish",),
    }
    return [(code, ACTS[code][1]) for code in codes.get(Status(booking.status), ())]


def before_it_lapses(*, can_confirm: bool) -> list[Offered]:
    """Of a pencilled time whose date comes near."""
    return [(code, ACTS[code][1]) for code in (*(["confirm"] if can_confirm else []), "give-up")]


def not_confirmed() -> list[Offered]:
    """Of a visit of the next working day about which nothing was heard."""
    return [("comes", ACTS["comes"][1])]


def taking_back() -> Offered:
    return "take-back", ACTS["take-back"][1]


def _of_booked(booking: Booking, now: datetime, *, is_over: bool) -> tuple[str, ...]:
    if is_over:
        return ("no-show", "finish")
    return ("arrive", "no-show") if booking.starts_at < now else ("arrive",)


def _is_treatment(booking: Booking) -> bool:
    return booking.visit_type.code == VisitCode.TREATMENT

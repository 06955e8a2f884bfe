"""The diary's kinds of message and its private links: "Before your visit" and "Pick a time"."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.diary import before, calendar, message_slots, tidings, together
from clinic.diary.models import Booking, Status, TimeInvitation
from clinic.diary.reminding import Remind
from clinic.messages import kinds, purposes, subjects
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.letters import Calendar, Letter
from clinic.messages.models import DueMessage
from clinic.messages.wordings.saying import say
from clinic.patients.models import Purpose
from clinic.trail import clock

VISIT, PICK = "visit", "pick"
_COMING = {Status.PROPOSED, Status.PENDING, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}

_HERE = {Status.ARRIVED, Status.CHECKED_IN}
AFTERWARDS = timedelta(hours=2)

# While its page can be of use.
_OPEN = {Status.PROPOSED, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN}


def register() -> None:
    subjects.register("booking", Booking, patient="patient")
    subjects.register("invitation", TimeInvitation, patient="patient")
    purposes.register(
        purposes.LinkPurpose(
            code=VISIT, title=_("Before your visit"), subject_kind="booking", landing="before_visit", window=_window
        )
    )
    _register(
        tidings.CONFIRMED, _("visit confirmed"), still={Status.BOOKED}, method="REQUEST", has_link=True, by_post=True
    )
    _register(tidings.PENCILLED, _("visit pencilled"), still={Status.PROPOSED}, method=None, tells_others=True)
    _register(tidings.MOVED, _("visit moved"), still={Status.BOOKED}, method="REQUEST", has_link=True, by_post=True)
    _register(tidings.CANCELLED, _("visit cancelled"), still={Status.CANCELLED}, method="CANCEL", by_post=True)
    _register(tidings.PAGE, _("link to the page of the visit"), still=_OPEN, method=None, has_link=True)
    _register(tidings.LAPSED, _("pencilled visit lapsed"), still={Status.CANCELLED}, method=None, by_post=True)
    _register_reminders()
    _register_pick()


_READING: kinds.Reading[Booking] = kinds.Reading(
    model=Booking, related=("patient",), shared=("site", "visit_type"), further=before.look_ahead
)
load = _READING.one


def _window(booking_id: int, now: datetime) -> purposes.Window | None:
    booking = load(booking_id)
    return None if booking is None else _window_of(booking, now)


def _window_of(booking: Booking, now: datetime) -> purposes.Window | None:
    """From now until two hours after the visit, or as long as somebody who is here today still waits or is seen."""
    if booking.status not in _COMING:
        return None
    closes_at = booking.ends_at + AFTERWARDS
    today = now.astimezone(booking.site.zone).date()
    if booking.status in _HERE and booking.wall_on == today:
        # A morning that runs late: the patient still has to sign before anything is done.
        closes_at = max(closes_at, now + AFTERWARDS)
    return purposes.Window(opens_at=now, closes_at=closes_at) if closes_at > now else None


_LINK: kinds.LinkSpec[Booking] = kinds.LinkSpec(purpose=VISIT, subject_id=lambda booking: booking.pk, window=_window_of)


def _register(
    code: str,
    label: StrOrPromise,
    *,
    still: set[Status],
    method: calendar.Method | None,
    has_link: bool = False,
    tells_others: bool = False,
    by_post: bool = False,
) -> None:
    kinds.register(
        kinds.Kind(
            code=code,
            label=label,
            purpose=Purpose.APPOINTMENT,
            subject_kind="booking",
            load=load,
            still_wanted=_untold(still) if tells_others else _unchanged(still),
            compose=_composer(code, method),
            wording=f"diary/messages/{code}",
            lasts=timedelta(days=2),
            link=_LINK if has_link else None,
            reading=_READING,
            on_request=True,
            letter_by=_before_it if by_post else None,
            own_words=message_slots.OF_VISITS[code],
        )
    )


def _before_it(booking: Booking, message: DueMessage) -> datetime:
    return booking.starts_at


def _register_reminders() -> None:
    """The first carries the page on which the time can be kept or changed; the second may be sent once more."""
    first = _Reminding(
        label=_("reminder, a week before"), wanted=_not_kept_yet, link=_LINK, resend_uncertain=False, by_post=True
    )
    second = _Reminding(
        label=_("reminder, two days before"), wanted=_still_comes, link=None, resend_uncertain=True, by_post=False
    )
    for code, one in ((Remind.WEEK_BEFORE, first), (Remind.TWO_DAYS_BEFORE, second)):
        kinds.register(
            kinds.Kind(
                code=code,
                label=one.label,
                purpose=Purpose.APPOINTMENT,
                subject_kind="booking",
                load=load,
                still_wanted=one.wanted,
                compose=_composer(code, None),
                wording=f"diary/messages/{code}",
                lasts=timedelta(days=1),
                link=one.link,
                reading=_READING,
                resend_uncertain=one.resend_uncertain,
                letter_by=_before_it if one.by_post else None,
                own_words=message_slots.OF_VISITS[code],
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reminding:
    label: StrOrPromise
    wanted: Callable[[Booking, DueMessage, datetime], kinds.Wanted]
    link: kinds.LinkSpec[Booking] | None
    resend_uncertain: bool
    by_post: bool


def _still_comes(booking: Booking, message: DueMessage, now: datetime) -> kinds.Wanted:
    """A visit that is moved drops its reminders, but not those that a death had ended: they may be given back."""
    return True if booking.status == Status.BOOKED and tidings.is_news(booking, message) else "changed since"


def _not_kept_yet(booking: Booking, message: DueMessage, now: datetime) -> kinds.Wanted:
    return "said that they come" if booking.accepted_at is not None else _still_comes(booking, message, now)


def _register_pick() -> None:
    purposes.register(
        purposes.LinkPurpose(
            code=PICK, title=_("Pick a time"), subject_kind="invitation", landing="pick_time", window=_pick_window
        )
    )
    kinds.register(
        kinds.Kind[TimeInvitation](
            code=tidings.PICK,
            label=_("link to pick a time"),
            purpose=Purpose.APPOINTMENT,
            subject_kind="invitation",
            load=load_invitation,
            still_wanted=lambda held, message, now: (
                True if _is_open(held, now) and held.times_sent == message.version else "changed since"
            ),
            compose=_compose_pick,
            wording="diary/messages/visit_pick",
            lasts=timedelta(days=2),
            link=kinds.LinkSpec(purpose=PICK, subject_id=lambda held: held.pk),
            on_request=True,
            letter_by=lambda held, _message: held.closes_at,
            own_words=message_slots.OF_VISITS[tidings.PICK],
        )
    )


def load_invitation(pk: int) -> TimeInvitation | None:
    rows = TimeInvitation.objects.select_related("site__practice", "patient", "visit_type", "booking")
    return rows.filter(pk=pk).first()


def _is_open(held: TimeInvitation, now: datetime) -> bool:
    return held.ended_at is None and held.closes_at > now


def _pick_window(invitation_id: int, now: datetime) -> purposes.Window | None:
    held = load_invitation(invitation_id)
    if held is None or not _is_open(held, now):
        return None
    return purposes.Window(opens_at=now, closes_at=held.closes_at)


def _compose_pick(held: TimeInvitation, _message: DueMessage, link_url: str) -> Letter:
    context = {"invitation": held, "site": held.site, "patient": held.patient, "visit_type": held.visit_type}
    return say(tidings.PICK, context | {"link_url": link_url})


def _unchanged(still: set[Status]) -> Callable[[Booking, DueMessage, datetime], kinds.Wanted]:
    """A booking that changed since has a newer message: this one would only confuse."""

    def wanted(booking: Booking, message: DueMessage, now: datetime) -> kinds.Wanted:
        return True if booking.status in still and tidings.is_news(booking, message) else "changed since"

    return wanted


def _untold(still: set[Status]) -> Callable[[Booking, DueMessage, datetime], kinds.Wanted]:
    unchanged = _unchanged(still)

    def wanted(booking: Booking, message: DueMessage, now: datetime) -> kinds.Wanted:
        known = unchanged(booking, message, now)
        return together.TOLD if known is True and together.told_with_another(booking, message) else known

    return wanted


def _composer(code: str, method: calendar.Method | None) -> Callable[[Booking, DueMessage, str], Letter]:
    def compose(booking: Booking, message: DueMessage, link_url: str) -> Letter:
        part, now = None, clock.now()
        # No calendar has an entry of a time that was only pencilled: there is nothing to take out of it.
        if method is not None and not booking.was_only_pencilled:
            part = Calendar(method=method, ics=calendar.invitation(booking, method=method, now=now))
        context = {
            "booking": booking,
            "site": booking.site,
            "patient": booking.patient,
            "visit_type": booking.visit_type,
            "link_url": link_url,
            "is_awaited": before.is_awaited(booking, now=now),
        }
        if code == tidings.PENCILLED:
            others = together.told_too(booking, message)
            context["times"] = sorted([booking, *others], key=lambda one: one.starts_at) if others else []
            context["is_next_try"] = message.step >= NEXT_TRY
        return say(code, context, calendar=part)

    return compose

"""The answer to an offer: yes, no thanks, or off the list; from the patient's page, or by the desk for them.

Whatever ends an offer locks its wish first, so of two answers at once, an answer and the end of its time, or an answer
and a desk, one comes through and the other is told.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime

from django.db import transaction

from clinic.diary import own_changes, pencilling, tidings
from clinic.diary.actions.booking import move
from clinic.diary.actions.placing import lock, taken_means_taken
from clinic.diary.actions.stepping import end_hold, note, step
from clinic.diary.models import MOVABLE, Answer, Booking, OwnAct, Status, WaitingOffer, WaitingWish, WishEnd
from clinic.diary.refusals import NobodyWaits, NotPossibleNow, OfferEnded
from clinic.diary.waitlist import taking
from clinic.diary.waitlist.noting import OFFER, note_offer, note_wish
from clinic.messages import actions as messages
from clinic.messages import links
from clinic.messages.actions.byhand import call_off
from clinic.messages.models import Call, Outcome
from clinic.trail.actor import Actor

VERBS = {
    Answer.YES: "diary.offer_taken",
    Answer.NO: "diary.offer_declined",
    Answer.LEFT: "diary.offer_declined",
    Answer.LAPSED: "diary.offer_lapsed",
    Answer.WITHDRAWN: "diary.offer_withdrawn",
}

_ANSWERED = {Answer.YES, Answer.NO, Answer.LEFT}


def accept(*, offer: WaitingOffer, actor: Actor, now: datetime) -> Booking:
    """Books the time, or pencils what has to be agreed first; a later visit moves to it.

    The time that it had is free in the same transaction. Raises OfferEnded; SlotTaken; what moving that visit raises.
    """
    with taken_means_taken(), transaction.atomic():
        held = _open(offer, now)
        lock(held.wish.site, held.wish.patient, now=now)
        if held.wish.booking is not None:
            booking = _move_up(held, held.wish.booking, actor=actor, now=now)
        else:
            booking = _book(held, actor=actor, now=now)
            own_changes.note(OwnAct.PICKED, booking, actor=actor, now=now)
        _end(held, Answer.YES, actor=actor, now=now)
        close_wish(held.wish, because=WishEnd.BOOKED, actor=actor, now=now)
    return booking


def decline(*, offer: WaitingOffer, actor: Actor, now: datetime, leave: bool = False) -> None:
    """Frees the time for the next; whoever leaves is not asked again. Raises OfferEnded."""
    with transaction.atomic():
        held = _open(offer, now)
        settle(held, Answer.LEFT if leave else Answer.NO, actor=actor, now=now)
        if leave:
            close_wish(held.wish, because=WishEnd.LEFT, actor=actor, now=now)


def withdraw(*, offer: WaitingOffer, actor: Actor, now: datetime) -> None:
    """The practice needs the time itself. Raises OfferEnded."""
    with transaction.atomic():
        settle(_open(offer, now), Answer.WITHDRAWN, actor=actor, now=now)


def settle(held: WaitingOffer, answer: Answer, *, actor: Actor, now: datetime) -> None:
    """Ends it without a visit: the time is free again, where nobody has freed it yet. Under the lock of its wish."""
    # Not possible: the hold ran out, and whoever looked for a time has freed it.
    with suppress(NotPossibleNow):
        end_hold(held.booking, "diary.hold_let_go", actor=actor, now=now)
    _end(held, answer, actor=actor, now=now)


def close_wish(wish: WaitingWish, *, because: WishEnd, actor: Actor, now: datetime) -> None:
    """Under its lock."""
    wish.ended_at, wish.ended_because = now, because
    wish.save(update_fields=["ended_at", "ended_because"])
    note_wish("diary.waitlist_left", wish, actor)


def lock_wish(pk: int) -> WaitingWish:
    """Read again, and nobody else changes it until this transaction ends. Raises NobodyWaits."""
    rows = WaitingWish.objects.select_for_update(no_key=True, of=("self",))
    found = rows.select_related("site", "patient", "visit_type", "booking").filter(pk=pk).first()
    if found is None:
        raise NobodyWaits
    return found


def lock_offer(pk: int) -> WaitingOffer:
    """Under the lock of its wish; raises OfferEnded when it has been answered."""
    wish_id = WaitingOffer.objects.filter(pk=pk).values_list("wish", flat=True).first()
    wish = lock_wish(wish_id or 0)
    related = ("booking__site", "booking__patient", "booking__visit_type")
    held = WaitingOffer.objects.select_related(*related).get(pk=pk)
    if held.answer != Answer.OPEN:
        raise OfferEnded
    held.wish = wish
    return held


def _open(offer: WaitingOffer, now: datetime) -> WaitingOffer:
    held = lock_offer(offer.pk)
    if held.answer_by <= now or held.booking.status != Status.PENDING or not _can_move(held, now):
        raise OfferEnded
    return held


def _can_move(held: WaitingOffer, now: datetime) -> bool:
    """Of a visit that is booked: it still stands, and one that was moved to an earlier time meanwhile stays there."""
    instead = held.wish.booking
    if instead is None:
        return True
    has_run_out = instead.lapses_at is not None and instead.lapses_at <= now
    return instead.status in MOVABLE and not has_run_out and held.booking.starts_at < instead.starts_at


def _book(held: WaitingOffer, *, actor: Actor, now: datetime) -> Booking:
    # Its room takes it in first: that one knows what has to be agreed before it is more than pencilled.
    taking.booked(held.booking, actor=actor, now=now)
    until = pencilling.until(held.booking, now=now)
    changes = {"lapses_at": until, "booked_at": now, "booked_by": actor.name, "booked_by_actor": actor.id}
    with _still_held():
        booking = step(held.booking, {Status.PENDING}, Status.PROPOSED if until else Status.BOOKED, changes)
    note("diary.hold_pencilled" if until else "diary.hold_booked", booking, actor)
    tidings.booked(booking, actor=actor, now=now)
    return booking


def _move_up(held: WaitingOffer, later: Booking, *, actor: Actor, now: datetime) -> Booking:
    """The visit itself moves, with everything that hangs on it, to what was held for it."""
    chosen = dict(held.booking.claims.filter(active=True).values_list("need", "resource_id"))
    with _still_held():
        end_hold(held.booking, "diary.hold_booked", actor=actor, now=now)
    rows = Booking.objects.select_related("site", "patient", "visit_type")
    return move(booking=rows.get(pk=later.pk), start_at=held.starts_at, actor=actor, now=now, only=chosen)


@contextmanager
def _still_held() -> Iterator[None]:
    """A desk that looks for a time frees what ran out by its own clock, without the lock of the wish."""
    try:
        yield
    except NotPossibleNow:
        raise OfferEnded from None


def _end(held: WaitingOffer, answer: Answer, *, actor: Actor, now: datetime) -> None:
    unanswered = WaitingOffer.objects.filter(pk=held.pk, answer=Answer.OPEN)
    if not unanswered.update(answer=answer, answered_at=now, answered_by=actor.name):
        raise OfferEnded
    note_offer(VERBS[answer], held, actor)
    about = (OFFER, held.pk)
    messages.cancel_for(subject=about, because="answered", actor=actor, now=now)
    _settle_calls(held.pk, answer, actor=actor, now=now)
    if answer in _ANSWERED:
        # Whoever comes too late still reads on that page what became of the time, until its window closes.
        links.end(purpose=OFFER, subject_id=held.pk, now=now, actor=actor)


def _settle_calls(pk: int, answer: Answer, *, actor: Actor, now: datetime) -> None:
    """Nobody need be called about it any more."""
    calls = Call.objects.open().filter(message__subject_kind=OFFER, message__subject_id=pk).select_related("message")
    outcome = Outcome.REACHED if answer in _ANSWERED else Outcome.OVER
    call_off(calls.order_by("pk"), actor=actor, now=now, outcome=outcome)

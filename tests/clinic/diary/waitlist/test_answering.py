"""Yes, no thanks, off the list: by the patient's page, by the desk for them, and what refuses it."""

from datetime import timedelta

import pytest

from clinic.diary import actions
from clinic.diary.actions.stepping import free_what_ran_out
from clinic.diary.models import Booking, FreedTime, VisitCode, WaitingOffer
from clinic.diary.refusals import OfferEnded
from clinic.diary.waitlist import answering, taking
from clinic.diary.waitlist.answering import accept, decline, withdraw
from clinic.messages.models import DueMessage
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import another_patient, at, book, pencil
from tests.clinic.diary.waitlist.waiting import free_it, one_offer, ring, wish
from tests.support import nothing_written

LATER = NOW + timedelta(minutes=30)


def state(offer: WaitingOffer) -> tuple[str, str, str]:
    """The answer, what became of the held time, and why the entry ended."""
    held = WaitingOffer.objects.select_related("booking", "wish").get(pk=offer.pk)
    return held.answer, held.booking.status, held.wish.ended_because


def test_yes_books_it(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    taken_in: list[int] = []
    monkeypatch.setattr(taking, "_takers", [lambda booking, _actor, _now: taken_in.append(booking.pk)])
    offer = one_offer(diary, another_patient(diary))
    booking = accept(offer=offer, actor=actor_of(diary.desk), now=LATER - timedelta(seconds=1))
    assert (booking.pk, booking.status, booking.lapses_at) == (offer.booking_id, "booked", None)
    assert state(offer) == ("yes", "booked", "booked")
    assert taken_in == [booking.pk]
    assert DueMessage.objects.get(kind="waitlist_offer").state == "cancelled"
    assert DueMessage.objects.get(kind="visit_confirmed").subject_id == booking.pk
    assert ring() == []
    assert not FreedTime.objects.exists()


def test_yes_moves_the_later_visit_and_frees_its_time_at_once(diary: Cast) -> None:
    """The visit keeps its identity; the time that it had goes to the next in turn."""
    ines, paula = another_patient(diary, 1), another_patient(diary, 2)
    later = book(diary, at(14), patient=ines, tell=False)
    wish(diary, ines, instead=later)
    wish(diary, paula, weekdays=frozenset({2}))
    held = book(diary, at(9), tell=False)
    free_it(diary, held)
    offer = next(one for one in ring() if one.wish.patient_id == ines.pk)
    chosen = set(offer.booking.claims.values_list("need", "resource"))
    booking = accept(offer=offer, actor=actor_of(diary.desk), now=NOW)
    assert (booking.pk, booking.uid, booking.starts_at, booking.status) == (later.pk, later.uid, at(9), "booked")
    assert set(booking.claims.values_list("need", "resource")) == chosen
    assert state(offer) == ("yes", "cancelled", "booked")
    assert DueMessage.objects.get(kind="visit_moved").subject_id == later.pk
    assert (at(14), later.ends_at) in FreedTime.objects.values_list("starts_at", "ends_at")


def test_a_visit_that_was_moved_to_an_earlier_time_meanwhile_stays_there(diary: Cast) -> None:
    later = book(diary, at(14), tell=False)
    wish(diary, diary.patient, instead=later)
    free_it(diary, book(diary, at(10), patient=another_patient(diary), tell=False))
    (offer,) = ring()
    moved = actions.move(booking=later, start_at=at(9), actor=actor_of(diary.desk), now=NOW)
    with nothing_written(), pytest.raises(OfferEnded):
        accept(offer=offer, actor=actor_of(diary.desk), now=NOW)
    assert Booking.objects.get(pk=later.pk).starts_at == moved.starts_at == at(9)


@pytest.mark.parametrize(("leave", "said"), [(False, ("no", "cancelled", "")), (True, ("left", "cancelled", "left"))])
def test_no_gives_it_to_the_next(diary: Cast, leave: bool, said: tuple[str, str, str]) -> None:
    offer = one_offer(diary, another_patient(diary, 1))
    wish(diary, another_patient(diary, 2))
    decline(offer=offer, actor=actor_of(diary.desk), now=NOW, leave=leave)
    assert state(offer) == said
    assert [one.wish.patient.name for one in ring()] == ["Ines Costa 2"]


def test_too_late_or_answered_changes_nothing(diary: Cast) -> None:
    offer = one_offer(diary, another_patient(diary))
    who = actor_of(diary.desk)
    for act in (accept, decline, withdraw):
        with nothing_written(), pytest.raises(OfferEnded):
            act(offer=offer, actor=who, now=LATER)
    withdraw(offer=offer, actor=who, now=NOW)
    assert state(offer) == ("withdrawn", "cancelled", "")
    for act in (accept, decline, withdraw):
        with nothing_written(), pytest.raises(OfferEnded):
            act(offer=offer, actor=who, now=NOW)


@pytest.mark.parametrize("moves", [False, True])
def test_a_desk_frees_it_by_its_own_clock_while_the_answer_waits(
    diary: Cast, monkeypatch: pytest.MonkeyPatch, moves: bool
) -> None:
    """That desk had the lock first: for it the time to answer was over."""
    ines = another_patient(diary)
    later = {"instead": book(diary, at(14), patient=ines, tell=False)} if moves else {}
    offer = one_offer(diary, ines, **later)
    monkeypatch.setattr(answering, "lock", lambda site, _patient, now: free_what_ran_out(site, now=LATER))
    with nothing_written(), pytest.raises(OfferEnded):
        accept(offer=offer, actor=actor_of(diary.desk), now=LATER - timedelta(seconds=1))


def test_the_visit_to_move_was_called_off_or_begun(diary: Cast) -> None:
    ines = another_patient(diary)
    later = book(diary, at(14), patient=ines, tell=False)
    offer = one_offer(diary, ines, instead=later)
    actions.arrive(booking=later, actor=actor_of(diary.desk), now=NOW)
    with nothing_written(), pytest.raises(OfferEnded):
        accept(offer=offer, actor=actor_of(diary.desk), now=NOW)


def test_the_pencilled_visit_to_move_has_run_out(diary: Cast) -> None:
    """No tick has come yet: its time is anybody's, and there is nothing left to move."""
    ines, ends_at = another_patient(diary), NOW + timedelta(minutes=10)
    held = book(diary, at(10), tell=False)
    wish(diary, ines, instead=pencil(diary, at(14), patient=ines, lapses_at=ends_at, tell=False))
    free_it(diary, held)
    (offer,) = ring()
    with nothing_written(), pytest.raises(OfferEnded):
        accept(offer=offer, actor=actor_of(diary.desk), now=ends_at)


def test_the_held_time_is_nobody_elses_to_book_or_let_go(diary: Cast) -> None:
    offer = one_offer(diary, another_patient(diary))
    held = Booking.objects.select_related("site", "patient", "visit_type").get(pk=offer.booking_id)
    for act in (actions.book_held, actions.let_go):
        with nothing_written(), pytest.raises(actions.HeldByAnother):
            act(booking=held, actor=actor_of(diary.desk), now=NOW)


def test_a_visit_that_became_longer_moves_to_a_time_that_holds_all_of_it(diary: Cast) -> None:
    ines, who = another_patient(diary), actor_of(diary.desk)
    later = book(diary, at(13), patient=ines, code=VisitCode.TREATMENT, cycles=1, tell=False)
    wish(diary, ines, instead=later)
    longer = actions.refit(booking=later, cycles=3, light_kind="", actor=who, now=NOW)
    free_it(diary, book(diary, at(9), code=VisitCode.TREATMENT, cycles=4, tell=False))
    (offer,) = ring()
    assert offer.ends_at - offer.starts_at == longer.ends_at - longer.starts_at
    moved = accept(offer=offer, actor=who, now=NOW)
    assert (moved.pk, moved.cycles, moved.starts_at) == (later.pk, 3, offer.starts_at)

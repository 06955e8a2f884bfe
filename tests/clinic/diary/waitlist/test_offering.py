"""A time becomes free: to whom it is offered, for how long, how they are told, and what comes after."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest

from clinic.accounts.models import Site
from clinic.diary import actions, earliest
from clinic.diary.actions.closing import take_back as open_again
from clinic.diary.actions.setting_up import set_hours
from clinic.diary.models import Booking, Closure, FreedTime, WaitingOffer, WaitingWish, WishEnd
from clinic.diary.refusals import InThePast
from clinic.diary.waitlist import clearing, offering
from clinic.diary.waitlist.answering import decline
from clinic.diary.waitlist.listing import end_wish
from clinic.diary.waitlist.matching import Match, matches
from clinic.diary.waitlist.offering import end_offers_due, tick
from clinic.messages.models import Call, DueMessage, Outcome, Why
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import another_patient, at, book, pencil, resource
from tests.clinic.diary.waitlist.waiting import (
    another_offer,
    close_around,
    free_it,
    one_offer,
    only_one_time,
    ring,
    wish,
)
from tests.support import nothing_written

LATER = NOW + timedelta(minutes=30)
DAY = timedelta(days=1)
THURSDAY = date(2026, 3, 5)


def who(offers: list[WaitingOffer]) -> list[str]:
    return [one.wish.patient.name for one in offers]


def noted() -> list[tuple[datetime, datetime]]:
    """What was noted as free since the last time, which is forgotten."""
    rows = list(FreedTime.objects.order_by("starts_at").values_list("starts_at", "ends_at"))
    FreedTime.objects.all().delete()
    return rows


def test_whatever_frees_a_time_notes_it(diary: Cast) -> None:
    desk, manager = actor_of(diary.desk), actor_of(diary.manager)
    free_it(diary, book(diary, at(9), tell=False))
    assert noted() == [], "nobody waits yet"
    held = wish(diary, another_patient(diary))
    free_it(diary, book(diary, at(9), tell=False))
    assert noted() == [(at(9), at(9, 35))]
    actions.move(booking=book(diary, at(9), tell=False), start_at=at(11), actor=desk, now=NOW)
    assert noted() == [(at(9), at(9, 35))]
    pencilled = pencil(diary, at(14), patient=another_patient(diary, 2), tell=False)
    actions.lapse_due(now=NOW + DAY)
    assert noted() == [(at(14), pencilled.ends_at)]
    request = actions.BookingRequest(diary.patient, held.visit_type, at(15))
    for end in (
        lambda one: actions.let_go(booking=one, actor=desk, now=NOW),
        lambda _: actions.end_holds_due(now=LATER),
    ):
        end(actions.hold(site=diary.fernbrook, request=request, actor=desk, now=NOW))
        assert noted() == [(at(15), at(15, 35))]
    closed = Closure.objects.create(site=diary.fernbrook, kind="closed", starts_at=at(12), ends_at=at(13))
    open_again(closure=closed, user=diary.manager, actor=manager, now=NOW)
    assert noted() == [(at(12), at(13))]
    hours: dict[str, Any] = {"from_time": time(9), "to_time": time(12), "user": diary.manager, "actor": manager}
    set_hours(resource=resource("Willow"), weekdays=[5], from_on=THURSDAY, until_on=date(2026, 3, 9), **hours)
    assert noted() == [(at(0, day=THURSDAY), at(0, day=date(2026, 3, 9)))]


def test_somebody_taken_off_the_list_while_the_tick_runs_is_in_nobodys_way(
    diary: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The time is kept for whoever waits behind them."""
    longest = wish(diary, another_patient(diary, 1), since_on=NOW.date() - 9 * DAY)
    wish(diary, another_patient(diary, 2))
    free_it(diary, only_one_time(diary))

    def found_and_taken_off(**asked: Any) -> list[Match]:
        found = matches(**asked)
        end_wish(longest, because=WishEnd.REMOVED, actor=actor_of(diary.desk), now=NOW)
        return found

    monkeypatch.setattr(offering, "matches", found_and_taken_off)
    assert ring() == []
    assert who(ring()) == ["Ines Costa 2"]


def test_new_working_hours_are_offered(diary: Cast) -> None:
    wish(diary, another_patient(diary), weekdays=frozenset({5}))
    hours: dict[str, Any] = {"from_time": time(9), "to_time": time(12), "from_on": NOW.date()}
    for one in diary.fernbrook.resources.all():
        set_hours(resource=one, weekdays=[5], user=diary.manager, actor=actor_of(diary.manager), **hours)
    assert [one.starts_at for one in ring()] == [at(9, day=date(2026, 3, 7))]


def test_from_a_cancellation_to_the_last_who_waits(diary: Cast) -> None:
    """Whoever waits longest first; without an answer to the next; and to nobody twice."""
    for number, days in ((1, 2), (2, 9)):
        wish(diary, another_patient(diary, number), since_on=NOW.date() - days * DAY)
    held = only_one_time(diary)
    assert ring() == []
    free_it(diary, held)
    (first,) = ring()
    assert (who([first]), first.starts_at, first.answer_by) == (["Ines Costa 2"], at(10), LATER)
    assert (first.booking.status, first.booking.lapses_at) == ("pending", LATER)
    assert first.booking.claims.filter(active=True).exists()
    entry = TrailEntry.objects.get(verb="diary.offer_made")
    assert (entry.actor_name, entry.patient_id) == ("the waiting list", first.wish.patient_id)
    with nothing_written():
        tick(now=NOW)
        tick(now=LATER - timedelta(seconds=1))
    (second,) = ring(LATER)
    assert who([second]) == ["Ines Costa 1"]
    first.refresh_from_db()
    assert (first.answer, first.booking.status) == ("lapsed", "cancelled")
    assert ring(second.answer_by) == []
    assert WaitingWish.objects.waiting().count() == 2
    assert not FreedTime.objects.exists()


def test_whoever_does_not_want_one_time_is_offered_another_that_became_free_with_it(diary: Cast) -> None:
    first = book(diary, at(10), tell=False)
    second = book(diary, at(10, day=THURSDAY), patient=another_patient(diary, 9), tell=False)
    wish(diary, another_patient(diary))
    for held in (first, second):
        free_it(diary, held)
    (offer,) = ring()
    decline(offer=offer, actor=actor_of(diary.desk), now=NOW)
    assert [one.starts_at for one in ring()] == [at(10, day=THURSDAY)]


def test_whoever_stays_silent_is_written_to_once_a_day(diary: Cast) -> None:
    """Else a stretch that became free would reach them piece by piece, a message every half hour."""
    days = [at(10), at(10, day=THURSDAY), at(10, day=THURSDAY + DAY)]
    held = [book(diary, day, patient=another_patient(diary, 9 + number), tell=False) for number, day in enumerate(days)]
    wish(diary, another_patient(diary))
    free_it(diary, held[0])
    free_it(diary, held[1])
    (first,) = ring()
    assert ring(first.answer_by) == []
    free_it(diary, held[2])
    assert ring(LATER + timedelta(hours=2)) == []
    free_it(diary, book(diary, at(14, day=THURSDAY), patient=another_patient(diary, 20), tell=False))
    assert len(ring(NOW + DAY)) == 1


def test_its_time_is_anybodys_once_it_ran_out_without_any_tick(diary: Cast) -> None:
    offer, jip = one_offer(diary, another_patient(diary)), diary.teenager
    with nothing_written(), pytest.raises(actions.SlotTaken):
        book(diary, at(10), patient=jip, now=LATER - timedelta(seconds=1))
    book(diary, at(10), patient=jip, now=LATER, tell=False)
    assert Booking.objects.get(pk=offer.booking_id).status == "cancelled"
    assert end_offers_due(now=LATER) == 1
    offer.refresh_from_db()
    assert offer.answer == "lapsed"


def test_ten_minutes_for_a_time_today(diary: Cast) -> None:
    wish(diary, another_patient(diary))
    free_it(diary, only_one_time(diary, at(12, day=NOW.date())))
    assert [one.answer_by for one in ring()] == [NOW + timedelta(minutes=10)]


def test_at_night_nobody_is_asked(diary: Cast) -> None:
    wish(diary, another_patient(diary))
    free_it(diary, only_one_time(diary))
    with nothing_written():
        tick(now=NOW + timedelta(hours=12))
    morning = NOW + timedelta(hours=23)
    assert [one.answer_by for one in ring(morning)] == [morning + timedelta(minutes=10)]


def test_who_cannot_take_it_is_not_asked(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Away with another visit, dead, with another clinician, with a later visit that may not be so soon, or earlier."""
    busy, dead, choosy, early, waits, pencilled, last = (another_patient(diary, number) for number in range(1, 8))
    held = book(diary, at(10), tell=False)
    book(diary, at(10, 15), patient=busy, tell=False)
    for one in (busy, dead):
        wish(diary, one)
    Patient.objects.filter(pk=dead.pk).update(died_on=NOW.date())
    wish(diary, choosy, person=resource("Bo Lindqvist"))
    away = {"kind": "leave", "starts_at": at(9), "ends_at": at(17)}
    wish(diary, early, instead=book(diary, at(9), patient=early, tell=False))
    later = book(diary, at(12), patient=waits, tell=False)
    wish(diary, waits, instead=later)
    wish(diary, pencilled, instead=pencil(diary, at(14), patient=pencilled, lapses_at=at(11), tell=False))
    monkeypatch.setattr(earliest, "_providers", [lambda one: (at(11), InThePast()) if one.pk == later.pk else None])
    close_around(diary, held)
    Closure.objects.create(site=diary.fernbrook, resource=resource("Bo Lindqvist"), **away)
    free_it(diary, held)
    assert ring() == []
    wish(diary, last)
    FreedTime.objects.create(site=diary.fernbrook, starts_at=at(10), ends_at=at(10, 35))
    assert who(ring()) == ["Ines Costa 7"]


def test_clear_to_start_comes_first_and_is_said(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def known(asks: Any, _now: Any) -> dict[Any, clearing.Clear]:
        clear = {ask: ask.wish.patient.name.endswith("1") for ask in asks}
        return {ask: clearing.Clear(said, "all signed" if said else "not signed") for ask, said in clear.items()}

    monkeypatch.setattr(clearing, "_clearings", [known])
    wish(diary, another_patient(diary, 1))
    wish(diary, another_patient(diary, 2), since_on=NOW.date() - 9 * DAY)
    free_it(diary, only_one_time(diary))
    (offer,) = ring()
    assert (who([offer]), offer.is_clear, offer.clear_words) == (["Ines Costa 1"], True, "all signed")


def test_two_times_and_two_people_are_settled_together(diary: Cast) -> None:
    """One after the other, Thursday would go to whoever waits longest, and nobody could take Wednesday."""
    first = book(diary, at(10), tell=False)
    second = book(diary, at(10, day=THURSDAY), patient=another_patient(diary, 9), tell=False)
    wish(diary, another_patient(diary, 1), weekdays=frozenset({3}))
    wish(diary, another_patient(diary, 2), since_on=NOW.date() - 9 * DAY)
    for held in (second, first):
        free_it(diary, held)
    offers = ring()
    assert who(offers) == ["Ines Costa 2", "Ines Costa 1"]
    assert [one.starts_at for one in offers] == [at(10), at(10, day=THURSDAY)]


def test_a_gap_that_serves_two_is_offered_to_two(diary: Cast) -> None:
    for number in (1, 2, 3):
        wish(diary, another_patient(diary, number))
    held = only_one_time(diary)
    diary.fernbrook.resources.filter(name="Alder").update(active=True)
    free_it(diary, held)
    assert who(ring()) == ["Ines Costa 1", "Ines Costa 2"]


def test_an_entry_that_has_no_sense_any_more_ends_with_its_offer(diary: Cast) -> None:
    ines = another_patient(diary)
    later = book(diary, at(14), patient=ines, tell=False)
    offer = one_offer(diary, ines, instead=later)
    over = wish(diary, another_patient(diary, 2), until_on=NOW.date(), weekdays=frozenset({4}))
    free_it(diary, later)
    assert ring() == []
    offer.refresh_from_db()
    assert (offer.answer, offer.booking.status) == ("withdrawn", "cancelled")
    tick(now=NOW + DAY)
    ended = dict(WaitingWish.objects.values_list("pk", "ended_because"))
    assert ended == {offer.wish_id: "visit-gone", over.pk: "over"}


def test_how_they_are_told(diary: Cast, settings: Any) -> None:
    """By a message with a link, outside the limits of a day; in quiet hours, or without an address, by a call."""
    ines, paula, nemo = (another_patient(diary, number) for number in (1, 2, 3))
    Patient.objects.filter(pk=paula.pk).update(channel="phone")
    Patient.objects.filter(pk=nemo.pk).update(email="", phone="")
    one_offer(diary, ines)
    sent = {"state": "handed_over", "handed_over_at": NOW, "due_at": NOW, "not_after": LATER, "planned_at": NOW}
    about = {
        "site": diary.fernbrook,
        "patient": ines,
        "subject_kind": "followup",
        "subject_id": 1,
        "kind": "how_are_you",
    }
    DueMessage.objects.create(**about, **sent)
    sweep(now=NOW)
    message = DueMessage.objects.get(kind="waitlist_offer")
    assert (message.state, message.channel) == ("handed_over", "email")
    FreedTime.objects.create(site=diary.fernbrook, starts_at=at(10), ends_at=at(10, 35))
    diary.fernbrook.resources.filter(name="Alder").update(active=True)
    another_offer(diary, paula)
    sweep(now=NOW)
    assert Call.objects.open().get().why == Why.PREFERS
    tick(now=LATER)
    assert Call.objects.get().outcome == Outcome.OVER, "an offer that is over needs no call"


@pytest.mark.parametrize(
    ("changes", "quiet", "why"), [({"email": "", "phone": ""}, 8, Why.NO_CHANNEL), ({}, 10, Why.MISSED)]
)
def test_where_no_message_can_go_somebody_calls(
    diary: Cast, settings: Any, changes: dict[str, str], quiet: int, why: Why
) -> None:
    settings.MESSAGES_FROM_HOUR = quiet
    ines = another_patient(diary)
    Patient.objects.filter(pk=ines.pk).update(**changes)
    wish(diary, ines)
    free_it(diary, book(diary, at(10), tell=False))
    assert len(ring()) == 1
    sweep(now=NOW)
    assert Call.objects.open().get().why == why


def test_what_is_wrong_at_one_site_stops_no_other(
    diary: Cast, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    asked: list[int] = []

    def broken_at_fernbrook(*, site: Site, now: datetime) -> None:
        asked.append(site.pk)
        if site == diary.fernbrook:
            raise RuntimeError("broken")

    monkeypatch.setattr(offering, "offer_freed", broken_at_fernbrook)
    for site in (diary.fernbrook, diary.alderton):
        FreedTime.objects.create(site=site, starts_at=at(10), ends_at=at(11))
    offering.tick(now=NOW)
    assert asked == [diary.fernbrook.pk, diary.alderton.pk]
    assert "no offers at site" in caplog.text


def test_nobody_is_asked_who_has_died(diary: Cast) -> None:
    offer = one_offer(diary, another_patient(diary))
    Patient.objects.filter(pk=offer.wish.patient_id).update(died_on=NOW.date())
    tick(now=NOW)
    held = WaitingOffer.objects.select_related("booking", "wish").get(pk=offer.pk)
    assert (held.answer, held.booking.status, held.wish.ended_because) == ("withdrawn", "cancelled", "removed")

"""A time held while the desk is on the telephone: nobody else can take it, and it never outlasts its minutes."""

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import Role
from clinic.diary import actions
from clinic.diary.actions.stepping import free_what_ran_out
from clinic.diary.models import Booking, ResourceClaim, Status
from clinic.diary.openings import Wanted, find
from clinic.diary.reading import bookings_on
from clinic.diary.tasks import lapse
from clinic.messages.models import DueMessage
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, visit
from tests.support import nothing_written

OVER = NOW + actions.HOLD_FOR


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def other_desk(diary: Cast) -> Client:
    return sign_in(hire(diary.fernbrook, Role.DESK, name="Ines Moreau", email="ines@example.org"))


def hold(cast: Cast, number: int = 0) -> Booking:
    """At nine, for the patient of the cast or, with a number, for another one."""
    patient = another_patient(cast, number) if number else cast.patient
    request = actions.BookingRequest(patient, visit(), at(9))
    return actions.hold(site=cast.fernbrook, request=request, actor=actor_of(cast.desk), now=NOW)


def fresh(booking: Booking) -> Booking:
    return Booking.objects.select_related("site", "patient", "visit_type").get(pk=booking.pk)


def press(client: Client, booking: Booking, act: str) -> Answer:
    return client.post(reverse("booking_act", kwargs={"pk": booking.pk, "act": act}))


def first_start(cast: Cast, *, now: datetime | None = None) -> str:
    wanted = Wanted(visit(), now=now)
    found = find(site=cast.fernbrook, wanted=wanted, earliest_at=at(9), latest_at=at(17), limit=1)
    return f"{found.found[0].start_at:%H:%M}"


def verbs() -> list[str]:
    return list(TrailEntry.objects.filter(subject_kind="booking").order_by("pk").values_list("verb", flat=True))


def test_one_press_holds_and_one_press_books(diary: Cast) -> None:
    desk = sign_in(diary.desk)
    address = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
    assert 'name="hold_at" value="2026-03-03T09:00:00+0000"' in desk.get(address).content.decode()
    answer = desk.post(address, {"hold_at": "2026-03-03T09:00:00+0000"})
    held = Booking.objects.get()
    assert (held.status, held.lapses_at, held.booked_by) == ("pending", OVER, "Dana Popescu")
    assert held.claims.filter(active=True).exists()
    # Nothing is said to anybody yet.
    assert not DueMessage.objects.exists()
    page = desk.get(answer.headers["Location"])
    text = page.content.decode()
    for words in ("held by you until 09:05", "5 minutes left", "Book it", "Let it go"):
        assert words in text
    assert (page.context["can_move"], page.context["can_cancel"], page.context["can_hand_over"]) == (False,) * 3
    # And it stands on the search for this patient.
    assert "Held, not booked yet" in desk.get(address).content.decode()
    press(desk, held, "book-held")
    booked = fresh(held)
    assert (booked.status, booked.lapses_at, booked.starts_at) == ("booked", None, NOW)
    assert list(DueMessage.objects.values_list("kind", flat=True)) == ["visit_confirmed"]
    assert verbs() == ["diary.held", "diary.hold_booked"]


def test_letting_go_leads_back_to_the_free_times(diary: Cast) -> None:
    desk, held = sign_in(diary.desk), hold(diary)
    answer = press(desk, held, "let-go")
    where = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
    # With the same kind of visit filled in.
    assert answer.headers["Location"] == f"{where}?visit_type={held.visit_type_id}"
    gone = fresh(held)
    # No cancellation: nobody ever had this time.
    assert (gone.status, gone.cancelled_by, gone.cancelled_at) == ("cancelled", "released", NOW)
    assert not ResourceClaim.objects.filter(active=True).exists()
    assert not DueMessage.objects.exists()
    assert verbs() == ["diary.held", "diary.hold_let_go"]
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        actions.take_back(booking=gone, actor=actor_of(diary.desk), now=NOW)


def test_another_desk_sees_who_holds_it_and_cannot_touch_it(diary: Cast, other_desk: Client) -> None:
    held = hold(diary)
    day = other_desk.get(reverse("diary_day", kwargs={"day": DAY.isoformat()})).content.decode()
    assert "held by Dana Popescu until 09:05" in day
    assert "day-pending" in day
    page = other_desk.get(reverse("booking", kwargs={"pk": held.pk}))
    assert page.context["acts"] == []
    for act in ("book-held", "let-go"):
        with nothing_written():
            refused = press(other_desk, held, act)
        assert refused.status_code == 409
        assert "Dana Popescu holds this time until 09:05." in refused.content.decode()


def test_nobody_else_can_have_it(diary: Cast) -> None:
    hold(diary)
    with nothing_written(), pytest.raises(actions.PatientBusy):
        book(diary, at(9))
    hold(diary, 1)
    other = another_patient(diary, 2)
    assert first_start(diary) == "09:45"
    with nothing_written(), pytest.raises(actions.SlotTaken):
        book(diary, at(9), patient=other)
    # Whatever the program thinks: the database refuses a second claim.
    claim = ResourceClaim.objects.select_related("booking", "resource").first()
    assert claim is not None
    claim.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        claim.save(force_insert=True)


def test_a_hold_that_ran_out_blocks_nothing_though_no_worker_came(diary: Cast) -> None:
    first, second = hold(diary, 1), hold(diary, 2)
    assert diary.patient.pk
    almost = OVER - timedelta(seconds=1)
    assert (first_start(diary, now=almost), first_start(diary, now=OVER)) == ("09:45", "09:00")
    assert bookings_on(diary.fernbrook, DAY, now=almost) == [first, second]
    assert bookings_on(diary.fernbrook, DAY, now=OVER) == []
    with nothing_written(), pytest.raises(actions.SlotTaken):
        book(diary, at(9), now=almost)
    taken = book(diary, at(9), now=OVER)
    assert (fresh(first).status, fresh(second).status, taken.status) == ("cancelled", "cancelled", "booked")
    assert set(ResourceClaim.objects.filter(active=True).values_list("booking", flat=True)) == {taken.pk}


def test_moving_and_coming_back_take_the_time_of_a_hold_that_ran_out(diary: Cast) -> None:
    who = actor_of(diary.desk)
    booking = book(diary, at(14))
    hold(diary, 1)
    hold(diary, 2)
    moved = actions.move(booking=booking, start_at=at(9), actor=who, now=OVER)
    assert moved.starts_at == at(9)
    cancelled = actions.cancel(booking=fresh(moved), by="patient", reason="", actor=who, now=OVER)
    for number in (3, 4):
        request = actions.BookingRequest(another_patient(diary, number), visit(), at(9))
        actions.hold(site=diary.fernbrook, request=request, actor=who, now=OVER)
    with nothing_written(), pytest.raises(actions.SlotTaken):
        actions.take_back(booking=cancelled, actor=who, now=OVER)
    assert actions.take_back(booking=cancelled, actor=who, now=OVER + actions.HOLD_FOR).status == "booked"


def test_the_tick_frees_it(diary: Cast, clock: time_machine.Traveller) -> None:
    held = hold(diary)
    clock.move_to(OVER - timedelta(seconds=1))
    with nothing_written():
        lapse()
    clock.move_to(OVER)
    lapse()
    assert (fresh(held).status, fresh(held).cancelled_by) == ("cancelled", "released")
    assert TrailEntry.objects.get(verb="diary.hold_ended").actor_kind == "system"
    with nothing_written():
        assert actions.end_holds_due(now=OVER) == 0


@pytest.mark.parametrize("freed", [False, True])
def test_pressing_too_late_shows_what_is_free(diary: Cast, clock: time_machine.Traveller, *, freed: bool) -> None:
    held = hold(diary)
    clock.move_to(OVER)
    if freed:
        lapse()
    desk = sign_in(diary.desk)
    with nothing_written():
        late = press(desk, held, "book-held")
    assert late.status_code == 409
    text = late.content.decode()
    assert "Your hold ran out at 09:05." in text
    # The same time is still free: one press books it.
    assert f"{reverse('find_time', kwargs={'patient_pk': diary.patient.pk})}?visit_type={visit().pk}" in text
    assert 'name="start_at" value="2026-03-04T09:00:00+0000"' in text


def test_the_page_counts_down_in_words(diary: Cast, clock: time_machine.Traveller) -> None:
    held = hold(diary)
    address = reverse("booking_held", kwargs={"pk": held.pk})
    left = {0: "5 minutes", 61: "3 minutes", 200: "1 minute", 299: "less than a minute"}
    for seconds, words in [*((at_second, f"{some} left") for at_second, some in left.items()), (300, "it has run out")]:
        clock.move_to(NOW + timedelta(seconds=seconds))
        assert words in sign_in(diary.desk).get(address).content.decode()


def test_a_held_time_is_on_nobodys_list_of_today(diary: Cast) -> None:
    request = actions.BookingRequest(diary.patient, visit(), NOW)
    actions.hold(site=diary.fernbrook, request=request, actor=actor_of(diary.desk), now=NOW)
    page = sign_in(diary.desk).get("/", follow=True)
    assert page.status_code == 200
    assert "Amara" not in page.content.decode()


def test_a_hold_without_an_end_is_refused_by_the_database(diary: Cast) -> None:
    held = hold(diary)
    with pytest.raises(IntegrityError, match="booking_not_settled_lapses"), transaction.atomic():
        Booking.objects.filter(pk=held.pk).update(lapses_at=None)


def test_freeing_costs_one_question_where_nothing_ran_out(diary: Cast) -> None:
    hold(diary)
    with transaction.atomic(), CaptureQueriesContext(connection) as asked:
        free_what_ran_out(diary.fernbrook, now=NOW)
    assert len(asked) == 1


@pytest.mark.parametrize("status", [Status.BOOKED, Status.PROPOSED])
def test_only_a_held_time_is_let_go(diary: Cast, status: Status) -> None:
    booking = book(diary, at(9), lapses_at=OVER if status == Status.PROPOSED else None)
    assert booking.status == status
    desk = sign_in(diary.desk)
    for act in ("book-held", "let-go"):
        with nothing_written():
            assert press(desk, booking, act).status_code == 409

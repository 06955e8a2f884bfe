"""Today: pencilled times that lapse soon, and what patients changed themselves until somebody has seen it."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions, own_changes
from clinic.diary.history import history
from clinic.diary.lapsing import lapsing_soon
from clinic.diary.models import Booking, Closure, ClosureKind, OwnAct, OwnChange, Status
from clinic.diary.unconfirmed import not_confirmed
from clinic.diary.waitlist import answering
from clinic.diary.working_days import working_days
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, pencil
from tests.clinic.diary.waitlist.waiting import one_offer
from tests.support import nothing_written

TODAY, SEEN = reverse("today"), reverse("own_changes_seen")
LAPSING, CHANGED = "Pencilled times that lapse soon", "Changed by patients themselves"
PHONE = Actor(kind="patient", id="1", name="")
NEXT_WEEK = date(2026, 3, 11)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def desk(diary: Cast) -> Client:
    return sign_in(diary.desk)


def press(desk: Client, booking: Booking, act: str) -> str:
    where = reverse("booking_act", args=[booking.pk, act])
    return desk.post(where, {"back": "start"}, follow=True).content.decode()


def fresh(booking: Booking) -> Booking:
    return Booking.objects.select_related("site", "patient", "visit_type").get(pk=booking.pk)


class TestLapsingSoon:
    def test_two_working_days(self, diary: Cast) -> None:
        """A weekend and a day on which the whole practice is closed do not count."""
        start = at(0, day=date(2026, 3, 12))
        whole = {"starts_at": start, "ends_at": start + timedelta(days=1)}
        Closure.objects.create(site=diary.fernbrook, kind=ClosureKind.CLOSED, **whole)
        wanted = {3: 5, 5: 9, 7: 10, 10: 13, 11: 16}
        assert {
            day: working_days(diary.fernbrook, now=at(10, day=date(2026, 3, day)))[-1].day for day in wanted
        } == wanted

    def test_who_is_on_the_list(self, diary: Cast) -> None:
        def pencilled(number: int, lapses_at: datetime) -> Booking:
            patient = another_patient(diary, number)
            return pencil(diary, at(9 + 2 * number, day=NEXT_WEEK), patient=patient, lapses_at=lapses_at, tell=False)

        # The second working day ends with Thursday.
        later = pencilled(0, datetime(2026, 3, 5, 23, 59, tzinfo=UTC))
        sooner = pencilled(1, NOW + timedelta(hours=1))
        pencilled(2, datetime(2026, 3, 6, 0, 0, tzinfo=UTC))
        book(diary, at(15, day=NEXT_WEEK), tell=False)
        until_on = working_days(diary.fernbrook, now=NOW)[-1]
        assert lapsing_soon(diary.fernbrook, until_on=until_on, now=NOW) == [sooner, later]
        assert lapsing_soon(diary.fernbrook, until_on=until_on, now=NOW + timedelta(hours=1)) == [later]
        assert lapsing_soon(diary.alderton, until_on=until_on, now=NOW) == []

    def test_let_go_and_taken_back_by_one_press(self, diary: Cast, desk: Client) -> None:
        booking = pencil(diary, at(9, day=NEXT_WEEK), code="consultation", cycles=0, tell=False)
        html = desk.get(TODAY).content.decode()
        assert LAPSING in html
        assert "lapses Wed 4 Mar 2026, 09:00" in html
        again = press(desk, booking, "give-up")
        assert "Let go. The time is free again" in again
        assert fresh(booking).status == Status.CANCELLED
        assert not booking.claims.filter(active=True).exists()
        # It stands there once more, for whoever pressed the wrong line.
        assert reverse("booking_act", args=[booking.pk, "take-back"]) in again
        press(desk, booking, "take-back")
        assert fresh(booking).status == Status.PROPOSED
        press(desk, booking, "confirm")
        assert fresh(booking).status == Status.BOOKED
        assert LAPSING not in desk.get(TODAY).content.decode()

    def test_what_was_confirmed_meanwhile_is_not_let_go(self, diary: Cast, desk: Client) -> None:
        booking = pencil(diary, at(9, day=NEXT_WEEK), tell=False)
        actions.confirm(booking=booking, actor=actor_of(diary.desk), now=NOW)
        with nothing_written():
            page = desk.post(reverse("booking_act", args=[booking.pk, "give-up"]))
        assert page.status_code == 409
        assert "so that cannot be done" in page.content.decode()


class TestChangedThemselves:
    def test_each_act_by_link_is_news_and_none_of_the_desk(self, diary: Cast) -> None:
        mine = book(diary, at(9), tell=False)
        desks = book(diary, at(9, day=NEXT_WEEK), patient=another_patient(diary), tell=False)
        kept = actions.keep_visit(booking=mine, actor=PHONE, now=NOW)
        moved = actions.move_visit(booking=kept, start_at=at(10, day=NEXT_WEEK), actor=PHONE, now=NOW)
        actions.cancel_visit(booking=moved, why="", actor=PHONE, now=NOW)
        actions.move(booking=desks, start_at=at(14, day=NEXT_WEEK), actor=actor_of(diary.desk), now=NOW)
        actions.cancel(booking=fresh(desks), by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
        rows = OwnChange.objects.order_by("pk").values_list("booking", "act", "was_at")
        assert list(rows) == [
            (mine.pk, OwnAct.KEPT, None),
            (mine.pk, OwnAct.MOVED, at(9)),
            (mine.pk, OwnAct.CANCELLED, None),
        ]

    def test_a_time_from_the_waiting_list(self, diary: Cast) -> None:
        mine = one_offer(diary, another_patient(diary))
        answering.accept(offer=mine, actor=PHONE, now=NOW)
        assert OwnChange.objects.get().act == OwnAct.PICKED

    def test_on_today_until_somebody_has_seen_it(self, diary: Cast, desk: Client) -> None:
        booking = book(diary, at(9), tell=False)
        other = book(diary, at(11), patient=another_patient(diary), tell=False)
        tag = desk.get(TODAY).context["page"].tag
        actions.move_visit(booking=booking, start_at=at(10, day=NEXT_WEEK), actor=PHONE, now=NOW)
        actions.keep_visit(booking=other, actor=PHONE, now=NOW)
        page = desk.get(TODAY)
        # News of another day too: an open page fetches itself anew.
        assert page.context["page"].tag != tag
        html = " ".join(page.content.decode().split())
        assert "from Wed 4 Mar 2026, 09:00 to Wed 11 Mar 2026, 10:00" in html
        assert "said that they come" in html
        first, second = OwnChange.objects.order_by("pk")
        assert CHANGED in desk.post(SEEN, {"change": first.pk}, follow=True).content.decode()
        first.refresh_from_db()
        assert (first.seen_at, first.seen_by) == (NOW, diary.desk.name)
        assert history(booking)[0].entries[0].sentence == "saw what a patient changed by link"
        assert CHANGED not in desk.post(SEEN, {"change": [first.pk, second.pk]}, follow=True).content.decode()
        first.refresh_from_db()
        assert first.seen_at == NOW

    def test_what_is_no_change_here(self, diary: Cast, desk: Client) -> None:
        with nothing_written():
            for sent in ("", "soon", "9" * 30, "²", "0"):
                assert desk.post(SEEN, {"change": sent}).status_code == 404

    def test_other_site(self, diary: Cast) -> None:
        actions.keep_visit(booking=book(diary, at(9), tell=False), actor=PHONE, now=NOW)
        elsewhere = sign_in(diary.elsewhere_desk)
        with nothing_written():
            answer = elsewhere.post(SEEN, {"change": OwnChange.objects.get().pk})
        assert answer.status_code == 404


def test_queries_do_not_grow_with_the_news(diary: Cast, desk: Client) -> None:
    def some(numbers: range) -> None:
        for number in numbers:
            patient = another_patient(diary, number)
            pencil(diary, at(9, day=NEXT_WEEK + timedelta(days=number)), patient=patient, tell=False)
            kept = book(diary, at(15, day=NEXT_WEEK + timedelta(days=number)), patient=patient, tell=False)
            own_changes.note(OwnAct.KEPT, kept, actor=PHONE, now=NOW)

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            page = desk.get(TODAY)
        assert len(page.context["page"].lapsing) == len(page.context["page"].changes) == Booking.objects.count() // 2
        return len(queries)

    some(range(1))
    desk.get(TODAY)
    before = asked()
    some(range(1, 3))
    assert asked() == before


class TestNotConfirmed:
    """Tuesday 3 March: of the firm visits of Wednesday, the next working day."""

    def test_who_is_on_the_list(self, diary: Cast) -> None:
        heard = book(diary, at(9), patient=another_patient(diary, 0), tell=False)
        actions.hear_that_they_come(booking=heard, actor=actor_of(diary.desk), now=NOW)
        silent = book(diary, at(11), patient=another_patient(diary, 1), tell=False)
        book(diary, at(9, day=NEXT_WEEK), patient=another_patient(diary, 2), tell=False)
        pencil(diary, at(14), patient=another_patient(diary, 3), tell=False)
        until_on = working_days(diary.fernbrook, now=NOW)[0]
        assert not_confirmed(diary.fernbrook, until_on=until_on, now=NOW) == [silent]
        assert not_confirmed(diary.alderton, until_on=until_on, now=NOW) == []

    @pytest.mark.parametrize("phone", ["+442079460101", ""])
    def test_where_nobody_can_be_called_the_row_says_so(self, diary: Cast, desk: Client, phone: str) -> None:
        book(diary, at(11), tell=False)
        assert 'href="tel:+442079460101"' in desk.get(TODAY).content.decode()
        Patient.objects.filter(pk=diary.patient.pk).update(phone=phone, phone_wrong_at=NOW if phone else None)
        html = desk.get(TODAY).content.decode()
        section = html.split("Not confirmed yet: call them")[1].split("</section>")[0]
        assert "tel:" not in section
        assert ("wrong number" if phone else "no number") in section

    def test_one_press_and_the_patient_comes(self, diary: Cast, desk: Client) -> None:
        booking = book(diary, at(11), tell=False)
        html = desk.get(TODAY).content.decode()
        section = html.split("Not confirmed yet: call them")[1].split("</section>")[0]
        assert "Amara Nwosu" in section
        assert 'data-row-key="k"' in section
        desk.post(reverse("booking_act", args=[booking.pk, "comes"]), {"back": "start"})
        assert fresh(booking).accepted_at == NOW
        assert "Not confirmed yet" not in desk.get(TODAY).content.decode()
        assert TrailEntry.objects.filter(verb="diary.heard_they_come").count() == 1

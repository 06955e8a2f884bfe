"""The pages of the waiting list: the desk's list and form, and the patient's page of one offered time."""

import re
from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.models import Booking, VisitCode, WaitingOffer, WaitingWish
from clinic.diary.waitlist.answering import accept
from clinic.messages.models import Call, PrivateLink
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, elsewhere_booking, resource, visit
from tests.clinic.diary.waitlist.waiting import free_it, one_offer, ring, wish
from tests.clinic.messages.entering import is_private, known
from tests.support import nothing_written

LIST = "/waiting/"


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def desk(diary: Cast) -> Client:
    return sign_in(diary.desk)


def add_url(patient: Patient, query: str = "") -> str:
    return reverse("waitlist_add", kwargs={"patient_pk": patient.pk}) + query


def press(client: Client, name: str, pk: int, **more: str) -> object:
    return client.post(reverse(name, kwargs={"pk": pk, **more}))


def visit_of(offer: WaitingOffer) -> Booking:
    """The one that is to move up, as it stands now."""
    return Booking.objects.select_related("site", "patient", "visit_type").get(waiting_wishes=offer.wish_id)


class TestTheList:
    def test_from_a_search_without_a_time_that_suits_onto_the_list_and_off_it(self, diary: Cast, desk: Client) -> None:
        find = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
        asked = f"visit_type={visit().pk}&weekdays=5&weekdays=6&over_by=12:00&person={resource('Bo Lindqvist').pk}"
        html = desk.get(f"{find}?{asked}").content.decode()
        link = re.search(r'href="(/patients/\d+/waiting/[^"]*)"', html)
        assert link
        page = desk.get(link.group(1).replace("&amp;", "&"))
        initial = page.context["form"].initial
        assert (initial["weekdays"], initial["over_by"], initial["since_on"]) == (["5", "6"], "12:00", NOW.date())
        assert page.content.decode().count("checked") == 2
        sent = {"visit_type": visit().pk, "weekdays": ["5", "6"], "over_by": "12:00", "person": initial["person"]}
        sent |= {"notice_hours": "24", "since_on": "2026-02-03", "until_on": "2026-03-31"}
        assert desk.post(add_url(diary.patient), sent).headers["Location"] == LIST
        entry = WaitingWish.objects.get()
        assert (entry.weekdays, entry.notice_hours, f"{entry.over_by:%H:%M}", entry.person) == (
            "56",
            24,
            "12:00",
            resource("Bo Lindqvist"),
        )
        html = desk.get(LIST).content.decode()
        for words in ("1 person waits", "Saturday, Sunday, over by 12:00", "notice: a day", "Tue 3 Feb 2026"):
            assert words in html
        assert "Saturday, Sunday" in desk.get(reverse("patient", kwargs={"pk": diary.patient.pk})).content.decode()
        press(desk, "waitlist_remove", entry.pk)
        assert not WaitingWish.objects.waiting().exists()
        assert "Taken off today" in desk.get(LIST).content.decode()
        press(desk, "waitlist_put_back", entry.pk)
        assert WaitingWish.objects.waiting().get().since_on == entry.since_on

    @pytest.mark.parametrize("cycles", ["3", "40"])
    def test_cycles_and_a_light_count_for_visits_that_have_them(self, diary: Cast, desk: Client, cycles: str) -> None:
        html = desk.get(add_url(diary.patient)).content.decode()
        marked = re.findall(r'<option value="(\d+)"[^>]*data-cycles', html)
        assert marked == [str(visit(VisitCode.TREATMENT).pk)]
        sent = {"notice_hours": "0", "since_on": "2026-03-03", "cycles": cycles, "light_kind": "arch"}
        desk.post(add_url(diary.patient), {"visit_type": visit().pk, **sent})
        entry = WaitingWish.objects.get()
        assert (entry.visit_type, entry.cycles, entry.light_kind) == (visit(), 0, "")

    def test_a_booked_visit_waits_for_a_sooner_time_once(self, diary: Cast, desk: Client) -> None:
        later = book(diary, at(14), tell=False)
        url = add_url(diary.patient, f"?booking={later.pk}")
        assert f'href="{url}"' in desk.get(reverse("booking", kwargs={"pk": later.pk})).content.decode()
        assert "visit_type" not in desk.get(url).context["form"].fields
        sent = {"notice_hours": "0", "since_on": "2026-03-03"}
        desk.post(url, sent)
        assert WaitingWish.objects.get().booking == later
        with nothing_written():
            again = desk.post(url, sent)
        assert (again.status_code, "on the waiting list already" in again.content.decode()) == (409, True)

    def test_nobody_stands_on_it_twice_for_one_kind_of_visit(self, diary: Cast, desk: Client) -> None:
        """A double press: who then took one time would be offered another."""
        sent = {"visit_type": visit().pk, "notice_hours": "0", "since_on": "2026-03-03"}
        assert desk.post(add_url(diary.patient), sent).status_code == 302
        with nothing_written():
            again = desk.post(add_url(diary.patient), sent)
        assert (again.status_code, "on the waiting list already" in again.content.decode()) == (409, True)
        entry = WaitingWish.objects.get()
        press(desk, "waitlist_remove", entry.pk)
        desk.post(add_url(diary.patient), sent)
        with nothing_written():
            press(desk, "waitlist_put_back", entry.pk)

    def test_what_has_ended_is_not_said_to_be_taken_off(self, diary: Cast, desk: Client) -> None:
        """From a page that is older than the patient's yes."""
        offer = one_offer(diary, another_patient(diary))
        accept(offer=offer, actor=actor_of(diary.desk), now=NOW)
        with nothing_written():
            said = desk.post(reverse("waitlist_remove", args=[offer.wish_id]), follow=True).content.decode()
        assert "It can be put back below." not in said
        assert "Somebody changed this entry of the waiting list, or ended it" in said

    def test_a_change_of_a_colleague_is_not_overruled_unseen(self, diary: Cast, desk: Client) -> None:
        entry = wish(diary, diary.patient)
        url = reverse("waitlist_change", kwargs={"pk": entry.pk})
        sent = {"notice_hours": "0", "since_on": "2026-03-03", "weekdays": ["1"], "version": "1"}
        assert desk.post(url, sent).headers["Location"] == LIST
        assert WaitingWish.objects.get().weekdays == "1"
        with nothing_written():
            answer = desk.post(url, sent | {"weekdays": ["2"]})
        assert answer.status_code == 409

    @pytest.mark.parametrize(
        ("sent", "sentence"),
        [
            ({"since_on": "2026-03-04"}, "Nobody can wait since then."),
            ({"until_on": "2026-03-02"}, "That day has passed."),
            ({"not_before": "12:00", "over_by": "11:00"}, "This must be later than “Not before”."),
            ({"visit_type": ""}, "Pick the visit."),
        ],
    )
    def test_bad_input(self, diary: Cast, desk: Client, sent: dict[str, str], sentence: str) -> None:
        given = {"visit_type": str(visit().pk), "notice_hours": "0", "since_on": "2026-03-03"}
        assert diary.patient.pk
        with nothing_written():
            answer = desk.post(add_url(diary.patient), given | sent)
        assert (answer.status_code, sentence in answer.content.decode()) == (422, True)

    def test_nobody_elses_visit_can_be_named(self, diary: Cast, desk: Client) -> None:
        others = book(diary, at(14), patient=another_patient(diary), tell=False)
        foreign = elsewhere_booking(diary)
        for pk in (others.pk, foreign.pk):
            assert desk.get(add_url(diary.patient, f"?booking={pk}")).status_code == 404

    def test_who_has_to_be_called_is_answered_for_by_one_press(self, diary: Cast, desk: Client) -> None:
        Patient.objects.filter(pk=diary.patient.pk).update(channel="phone")
        offer = one_offer(diary, diary.patient)
        sweep(now=NOW)
        html = desk.get(LIST).content.decode()
        assert "call them:" in html
        assert "fits: any time" in html
        assert "Yes, book it: Amara Nwosu" in html
        assert "1 time on offer" in html
        press(desk, "waitlist_answer", offer.pk, answer="yes")
        assert Booking.objects.get(pk=offer.booking_id).status == "booked"
        assert not Call.objects.open().filter(message__kind="waitlist_offer").exists()
        assert "took it" in desk.get(LIST).content.decode()
        with nothing_written():
            press(desk, "waitlist_answer", offer.pk, answer="no")
        assert "not on offer any more" in desk.get(LIST).content.decode()

    def test_the_number_of_queries_does_not_grow(self, diary: Cast, desk: Client) -> None:
        counts = []
        for numbers in (range(1, 3), range(3, 9)):
            for number in numbers:
                wish(diary, another_patient(diary, number))
            with CaptureQueriesContext(connection) as seen:
                desk.get(LIST)
            counts.append(len(seen))
        assert counts[0] == counts[1]


class TestThePatientsPage:
    @pytest.fixture
    def offer(self, diary: Cast) -> WaitingOffer:
        later = book(diary, at(14), tell=False)
        wish(diary, diary.patient, instead=later)
        free_it(diary, book(diary, at(10), patient=diary.teenager, tell=False))
        (offer,) = ring()
        return offer

    @pytest.fixture
    def phone(self, offer: WaitingOffer) -> Client:
        """In by the link of the message, birth date said."""
        mail.outbox.clear()
        sweep(now=NOW)
        link = re.search(r"https?://[^/]+(/p/l/\S+)", str(mail.outbox[0].body))
        assert link
        return known(Client(), link.group(1))

    def test_it_says_what_when_and_until_when(self, offer: WaitingOffer, phone: Client) -> None:
        page = phone.get("/p/offer/")
        html = page.content.decode()
        assert is_private(page)
        for words in (
            "Wed 4 Mar 2026, 10:00",
            "held for you until Tue 3 Mar 2026, 09:30",
            "your visit of Wed 4 Mar 2026, 14:00 moves",
            "Yes, I take",
        ):
            assert words in html
        assert "Consultation" not in html

    def test_yes(self, diary: Cast, offer: WaitingOffer, phone: Client) -> None:
        page = phone.post("/p/offer/", {"answer": "yes"})
        assert "Your visit has moved to this time." in page.content.decode()
        assert "Wed 4 Mar 2026, 10:00" in page.content.decode()
        assert visit_of(offer).starts_at == at(10)
        # The link has done its work.
        assert PrivateLink.objects.get(purpose="waitlist_offer").ended_because == "done"
        # Loaded or pressed again it says so still, and does nothing more.
        with nothing_written():
            again = phone.post("/p/offer/", {"answer": "no"})
            assert (again.status_code, "This time is yours" in again.content.decode()) == (409, True)
            assert "Wed 4 Mar 2026, 10:00" in phone.get("/p/offer/").content.decode()
        # What became of the visit since is for its own page.
        actions.cancel(booking=visit_of(offer), by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
        assert "not free any more" in phone.get("/p/offer/").content.decode()

    @pytest.mark.parametrize(
        ("said", "words", "waits"), [("no", "You stay on the waiting list", True), ("leave", "off the waiting", False)]
    )
    def test_no(self, offer: WaitingOffer, phone: Client, said: str, words: str, waits: bool) -> None:
        assert words in phone.post("/p/offer/", {"answer": said}).content.decode()
        assert words in phone.get("/p/offer/").content.decode()
        assert WaitingWish.objects.waiting().exists() is waits
        assert visit_of(offer).starts_at == at(14)

    def test_too_late(self, offer: WaitingOffer, phone: Client, clock: time_machine.Traveller) -> None:
        clock.move_to(offer.answer_by)
        with nothing_written():
            answer = phone.post("/p/offer/", {"answer": "yes"})
        assert (answer.status_code, "not free any more" in answer.content.decode()) == (409, True)
        assert "not free any more" in phone.get("/p/offer/").content.decode()
        assert phone.get("/p/offer/").status_code == 200

    def test_no_sense_no_change(self, offer: WaitingOffer, phone: Client) -> None:
        with nothing_written():
            assert phone.post("/p/offer/", {"answer": "maybe"}).status_code == 200

    def test_a_visit_that_cannot_move_is_said(self, diary: Cast, offer: WaitingOffer, phone: Client) -> None:
        later = visit_of(offer)
        actions.arrive(booking=later, actor=actor_of(diary.desk), now=NOW)
        with nothing_written():
            assert phone.post("/p/offer/", {"answer": "yes"}).status_code == 409

    def test_a_refusal_names_no_visit(self, diary: Cast, offer: WaitingOffer, phone: Client) -> None:
        """The desk's words for it do."""
        start = offer.starts_at + timedelta(minutes=15)
        Booking.objects.filter(pk=book(diary, at(12), tell=False).pk).update(starts_at=start)
        with nothing_written():
            answer = phone.post("/p/offer/", {"answer": "yes"})
        html = answer.content.decode()
        assert (answer.status_code, "nothing has changed. Please call us." in html) == (409, True)
        assert "Consultation" not in html

    def test_taken_off_the_list_is_not_told_to_wait(self, diary: Cast, offer: WaitingOffer, phone: Client) -> None:
        press(sign_in(diary.desk), "waitlist_remove", offer.wish_id)
        html = phone.get("/p/offer/").content.decode()
        assert "not free any more" in html
        assert "You stay on the waiting list" not in html
        assert "Your visit stays where it is." in html

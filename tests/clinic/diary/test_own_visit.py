"""What a patient does with their own visit by private link: keep it, move it, cancel it."""

import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import ShortNotice, Site
from clinic.diary import actions
from clinic.diary.history import history
from clinic.diary.kinds import VISIT
from clinic.diary.models import Booking, Status, VisitType, Why
from clinic.messages import links
from clinic.messages.models import DueMessage, PrivateLink
from clinic.messages.sweep import sweep
from clinic.trail.actor import SYSTEM
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, pencil
from tests.clinic.messages.entering import CLOSED, is_private, known, opened
from tests.support import nothing_written

BEFORE, KEEP, MOVE, CANCEL = (
    reverse(name) for name in ("before_visit", "own_visit_keep", "own_visit_move", "own_visit_cancel")
)
THURSDAY = date(2026, 3, 5)
CHANGED = "Your visit was changed after you opened this page."


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def booking(diary: Cast) -> Booking:
    """On the day after NOW, at the very hour: just enough notice."""
    return book(diary, at(9), tell=False)


@pytest.fixture
def phone(booking: Booking) -> Client:
    return known(Client(), link_to(booking))


def link_to(booking: Booking) -> str:
    with transaction.atomic():
        _link, url = links.issue(
            purpose=VISIT, subject_id=booking.pk, patient=booking.patient, site=booking.site, now=NOW, actor=SYSTEM
        )
    return "/p/l/" + url.partition("/p/l/")[2]


def offered(phone: Client, query: str = "") -> list[str]:
    return re.findall(r'name="start_at" value="([^"]+)"', phone.get(MOVE + query).content.decode())


def sent(start_at: datetime, booking: Booking) -> dict[str, object]:
    return {"start_at": start_at.isoformat(), "version": booking.version}


def words(page: Any) -> str:
    return " ".join(page.content.decode().split())


def told(booking: Booking) -> tuple[str, str]:
    """Who took the last step, and what it was, as the desk reads it."""
    step = history(booking)[0].entries[0]
    return str(step.actor_name), step.sentence


def test_keeping_it(diary: Cast, booking: Booking, phone: Client) -> None:
    text = words(phone.get(BEFORE))
    for said in ("Can you come?", "Yes, I will come", "I need another time", "I cannot come", "Wed 4 Mar 2026, 09:00"):
        assert said in text
    assert "Talk and check-up · " in text
    assert "Consultation" not in text
    page = words(phone.post(KEEP, {"version": booking.version}, follow=True))
    assert "You have told us that you will come." in page
    assert "Yes, I will come" not in page
    booking.refresh_from_db()
    assert (booking.accepted_at, booking.version, booking.status) == (NOW, 2, Status.BOOKED)
    assert told(booking) == ("the patient, by link", "said that they come")
    with nothing_written():
        assert phone.post(KEEP, {"version": 2}).status_code == 302
        assert phone.get(KEEP).status_code == 405
    # Another time asks anew.
    actions.move(booking=booking, start_at=at(14), actor=actor_of(diary.desk), now=NOW)
    assert Booking.objects.get().accepted_at is None


def test_moving_it(diary: Cast, booking: Booking, phone: Client) -> None:
    with nothing_written():
        page = phone.get(MOVE)
    assert is_private(page)
    assert "Now it is Wed 4 Mar 2026, 09:00." in words(page)
    # A day's notice, and never the time that it has.
    assert offered(phone)[:3] == [f"2026-03-04T{clock}:00+0000" for clock in ("09:15", "12:45", "16:15")]
    answer = phone.post(MOVE, sent(at(14), booking))
    moved = Booking.objects.get()
    assert (moved.starts_at, moved.sequence, moved.version) == (at(14), 1, 2)
    assert {(one.start_at, one.active) for one in moved.claims.all()} >= {(at(14), True)}
    assert DueMessage.objects.get(kind="visit_moved").version == 2
    assert told(moved) == ("the patient, by link", "moved a visit: Wed 4 Mar 2026, 14:00")
    # The page that says so outlives the link that the message about it replaces, in this browser alone.
    done = answer.headers["Location"]
    sweep(now=NOW)
    assert PrivateLink.objects.filter(ended_because="newer").count() == 1
    page = phone.get(done)
    assert is_private(page)
    assert "Your visit has a new time" in words(page)
    assert "Wed 4 Mar 2026, 14:00" in words(page)
    assert phone.get(BEFORE).status_code == CLOSED
    assert phone.get(done[:-3] + "x/").status_code == 404
    other = known(Client(), link_to(book(diary, at(10), patient=another_patient(diary), tell=False)))
    assert other.get(done).status_code != 200


def test_days_and_hours_that_suit(phone: Client) -> None:
    assert {value[11:13] for value in offered(phone, "?part=late")} == {"16"}
    mornings = offered(phone, "?part=morning&weekdays=4")
    assert {datetime.fromisoformat(value).weekday() for value in mornings} == {4}
    assert max(value[11:16] for value in mornings) == "12:15"
    assert "There is no free time like that." in words(phone.get(MOVE + "?weekdays=6"))
    assert offered(phone, "?part=night&weekdays=x&from_on=soon") == offered(phone)
    (later,) = re.findall(r'href="\?([^"]+)">Later days', phone.get(MOVE + "?part=late").content.decode())
    assert offered(phone, "?" + later.replace("&amp;", "&"))[0] == "2026-03-10T16:00:00+0000"


def test_no_sooner_and_no_further_than_the_practice_allows(booking: Booking, phone: Client) -> None:
    VisitType.objects.update(patient_notice_hours=49, patient_days_ahead=3)
    times = offered(phone)
    assert times[0] == "2026-03-05T10:00:00+0000"
    assert {value[:10] for value in times} == {"2026-03-05", "2026-03-06"}
    for start_at in (at(9, day=THURSDAY), at(9, day=THURSDAY + timedelta(days=4)), booking.starts_at):
        with nothing_written():
            page = phone.post(MOVE, sent(start_at, booking))
        assert page.status_code == 409
        assert "That time is no longer free. Pick one of these." in words(page)
    for nonsense in ("", "soon", "9999-12-31T23:59:59+0000"):
        with nothing_written():
            page = phone.post(MOVE, {"start_at": nonsense, "version": booking.version})
        assert page.status_code == 422


def test_the_desk_was_quicker(diary: Cast, booking: Booking, phone: Client) -> None:
    """Two clinicians examine: both are given away between the look and the press."""
    wanted = at(9, day=THURSDAY)
    assert wanted.strftime("%Y-%m-%dT%H:%M:%S+0000") in offered(phone)
    for number in (1, 2):
        book(diary, wanted, patient=another_patient(diary, number), tell=False)
    with nothing_written():
        page = phone.post(MOVE, sent(wanted, booking))
    assert page.status_code == 409
    assert "Somebody else has just taken that time. Pick one of these." in words(page)
    assert "2026-03-05T09:45:00+0000" in words(page)
    assert "2026-03-05T09:00:00+0000" not in words(page)


def test_the_desk_changed_it_meanwhile(diary: Cast, booking: Booking, phone: Client) -> None:
    """Nothing is done to a visit that stands elsewhere now; its page says where."""
    stale = sent(at(11), booking)
    moved = actions.move(booking=booking, start_at=at(14), actor=actor_of(diary.desk), now=NOW)
    for address in (KEEP, MOVE, CANCEL):
        for data in (stale, {"start_at": stale["start_at"]}):
            with nothing_written():
                page = phone.post(address, data)
            assert page.status_code == 409
            assert CHANGED in words(page)
            assert "Wed 4 Mar 2026, 14:00" in words(page)
    actions.cancel(booking=moved, by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
    for address in (KEEP, MOVE, CANCEL):
        with nothing_written():
            page = phone.post(address, stale)
        assert page.status_code == 409
        assert "This visit is cancelled" in words(page)


def test_cancelling_it(diary: Cast, booking: Booking, phone: Client) -> None:
    assert "You cannot come?" in words(phone.get(CANCEL))
    with nothing_written():
        assert phone.post(CANCEL, {"why": "staff-away", "version": booking.version}).status_code == 422
    page = words(phone.post(CANCEL, {"why": "ill", "version": booking.version}, follow=True))
    assert "Your visit is cancelled" in page
    ended = Booking.objects.select_related("site", "patient", "visit_type").get()
    assert (ended.status, ended.cancelled_by, ended.why) == (Status.CANCELLED, "patient", Why.ILL)
    assert not ended.was_late
    assert set(ended.claims.values_list("active", flat=True)) == {False}
    assert DueMessage.objects.get(kind="visit_cancelled").version == 2
    assert told(ended) == ("the patient, by link", "cancelled a visit: ill that day")
    # Its purpose is done: the link is dead, and a second press of the same page comes too late.
    assert PrivateLink.objects.get().ended_because == "done"
    with nothing_written():
        assert phone.post(CANCEL, {"version": booking.version}).status_code == CLOSED
    # "I pressed the wrong thing": anybody at the desk takes it back that day.
    assert actions.take_back(booking=ended, actor=actor_of(diary.assistant), now=NOW).status == Status.BOOKED


def test_with_less_notice_than_the_practice_asks_for(booking: Booking, clock: time_machine.Traveller) -> None:
    clock.move_to(at(9) - timedelta(hours=2))
    phone = known(Client(), link_to(booking))
    assert "I need another time" not in words(phone.get(BEFORE))
    with nothing_written():
        assert phone.get(MOVE).headers["Location"] == BEFORE
        page = phone.post(MOVE, sent(at(14), booking))
    assert page.status_code == 409
    assert "Please call us: we sort it out together." in words(page)
    Site.objects.update(short_notice=ShortNotice.CALL)
    assert "I cannot come" not in words(phone.get(BEFORE))
    with nothing_written():
        assert phone.get(CANCEL).headers["Location"] == BEFORE
        assert phone.post(CANCEL, {"version": booking.version}).status_code == 409
    Site.objects.update(short_notice=ShortNotice.ACCEPT)
    assert "It is less than 24 hours before your visit." in words(phone.get(CANCEL))
    phone.post(CANCEL, {"why": "", "version": booking.version})
    ended = Booking.objects.get()
    assert (ended.status, ended.was_late, ended.why) == (Status.CANCELLED, True, Why.NOT_SAID)


def test_a_visit_that_only_the_practice_moves(diary: Cast, booking: Booking, phone: Client) -> None:
    VisitType.objects.update(patient_may_move=False)
    assert "I need another time" not in words(phone.get(BEFORE))
    with nothing_written():
        assert phone.post(MOVE, sent(at(14), booking)).status_code == 409
    # A pencilled time is nobody's yet: it is given back, and nothing else.
    held = pencil(diary, at(11), patient=another_patient(diary), tell=False)
    Booking.objects.filter(pk=held.pk).update(patient=booking.patient)
    held.refresh_from_db()
    theirs = known(Client(), link_to(held))
    page = words(theirs.get(BEFORE))
    assert "We hold this time for you. It is not booked yet." in page
    assert "Yes, I will come" not in page
    with nothing_written():
        assert theirs.post(KEEP, {"version": held.version}).status_code == 409
        assert theirs.post(MOVE, sent(at(14), held)).status_code == 409
    theirs.post(CANCEL, {"version": held.version})
    assert Booking.objects.get(pk=held.pk).status == Status.CANCELLED


def test_nobody_else(diary: Cast, booking: Booking) -> None:
    desk, stranger = sign_in(diary.desk), opened(Client(), link_to(booking))
    for address in (KEEP, MOVE, CANCEL):
        with nothing_written():
            assert desk.post(address, sent(at(14), booking)).status_code == CLOSED
            # Who holds the link and has not said the date of birth.
            assert stranger.post(address, sent(at(14), booking)).headers["Location"] == reverse("private_who")

"""The desk sends a link, the patient picks a time: the same engine, the same refusals, one visit."""

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from clinic.accounts.rights import NotAllowed
from clinic.diary import actions
from clinic.diary.history import history
from clinic.diary.models import Booking, Status, TimeInvitation, VisitType
from clinic.diary.refusals import BookedAlready, InvitationOver, NotForPatients, TreatmentNeedsItsCase
from clinic.messages.models import DueMessage, PrivateLink, State
from clinic.messages.sweep import sweep
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, visit
from tests.clinic.messages.entering import CLOSED, is_private, known
from tests.support import nothing_written

PICK = reverse("pick_time")


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def kind(diary: Cast) -> VisitType:
    VisitType.objects.filter(pk=visit().pk).update(patient_may_book=True)
    return visit()


@pytest.fixture
def invitation(diary: Cast, kind: VisitType) -> TimeInvitation:
    return invite(diary, kind)


@pytest.fixture
def phone(invitation: TimeInvitation) -> Client:
    return known(Client(), mailed())


def invite(diary: Cast, kind: VisitType, **changes: Any) -> TimeInvitation:
    given: dict[str, Any] = {
        "patient": diary.patient,
        "user": diary.desk,
        "actor": actor_of(diary.desk),
        "now": NOW,
    } | changes
    return actions.invite(visit_type=kind, **given)


def mailed() -> str:
    """The address in the newest message, once it has gone out."""
    sweep(now=NOW)
    return newest_address()


def newest_address() -> str:
    found = re.search(r"/p/l/\S+", str(mail.outbox[-1].body))
    assert found is not None
    return found[0]


def offered(phone: Client) -> list[str]:
    return re.findall(r'name="start_at" value="([^"]+)"', phone.get(PICK).content.decode())


def words(page: Any) -> str:
    return " ".join(page.content.decode().split())


def test_it_works(diary: Cast, phone: Client, invitation: TimeInvitation) -> None:
    with nothing_written():
        page = phone.get(PICK)
    assert is_private(page)
    assert "It takes about 35 minutes. One press books it." in words(page)
    assert "Consultation" not in words(page)
    first = offered(phone)[0]
    assert first == "2026-03-04T09:00:00+0000"
    done = phone.post(PICK, {"start_at": first}, follow=True)
    assert "Your visit is booked" in words(done)
    assert "Wed 4 Mar 2026, 09:00" in words(done)
    booking = Booking.objects.get()
    assert (booking.starts_at, booking.status, booking.booked_by) == (at(9), Status.BOOKED, "Amara Nwosu")
    assert DueMessage.objects.get(kind="visit_confirmed").subject_id == booking.pk
    assert str(history(booking)[0].entries[0].actor_name) == "the patient, by link"
    held = TimeInvitation.objects.get()
    assert (held.booking_id, held.ended_because) == (booking.pk, "picked")
    # Pressed twice, or opened again: there is one visit and no page any more.
    assert PrivateLink.objects.filter(purpose="pick").get().ended_because == "done"
    with nothing_written():
        assert phone.post(PICK, {"start_at": at(10).isoformat()}).status_code == CLOSED


def test_a_time_that_is_only_held_was_promised_to_nobody(diary: Cast, kind: VisitType, phone: Client) -> None:
    wanted = actions.BookingRequest(diary.patient, kind, at(15))
    actions.hold(site=diary.fernbrook, request=wanted, actor=actor_of(diary.desk), now=NOW)
    with nothing_written():
        assert "has a time already" not in words(phone.get(PICK))
    done = phone.post(PICK, {"start_at": at(10).isoformat()}, follow=True)
    assert "Your visit is booked" in words(done)
    assert Booking.objects.get(status=Status.BOOKED).starts_at == at(10)


def test_somebody_was_quicker(diary: Cast, phone: Client) -> None:
    for number in (1, 2):
        book(diary, at(9), patient=another_patient(diary, number), tell=False)
    with nothing_written():
        page = phone.post(PICK, {"start_at": at(9).isoformat()})
    assert page.status_code == 409
    assert "Somebody else has just taken that time. Pick one of these." in words(page)
    assert offered(phone)[0] == "2026-03-04T09:45:00+0000"
    for start_at, status in (("soon", 422), (at(8).isoformat(), 409), ("2026-03-03T10:00:00+0000", 409)):
        with nothing_written():
            assert phone.post(PICK, {"start_at": start_at}).status_code == status


def test_the_desk_booked_it_meanwhile(diary: Cast, phone: Client, invitation: TimeInvitation) -> None:
    book(diary, at(14), tell=False)
    for page in (phone.get(PICK), phone.post(PICK, {"start_at": at(9).isoformat()})):
        assert "Your visit has a time already" in words(page)
        assert "Wed 4 Mar 2026, 14:00" in words(page)
    with nothing_written(), pytest.raises(BookedAlready):
        actions.pick(invitation=invitation, start_at=at(9), actor=actor_of(diary.desk), now=NOW)
    # Asked once more, it is about a further visit.
    assert invite(diary, invitation.visit_type, now=NOW + timedelta(minutes=1)).pk != invitation.pk


def test_where_it_is_not_allowed_any_more(diary: Cast, phone: Client) -> None:
    VisitType.objects.update(patient_may_book=False)
    assert "There is no free time here now. Please call us; we find one:" in words(phone.get(PICK))
    with nothing_written():
        assert phone.post(PICK, {"start_at": at(9).isoformat()}).status_code == 409


def test_the_desk_sends_it_again_and_takes_it_back(diary: Cast, kind: VisitType) -> None:
    desk = sign_in(diary.desk)
    where = reverse("find_time", args=[diary.patient.pk]) + f"?visit_type={kind.pk}"
    assert "Send the patient a link to pick a time" in words(desk.get(where))
    address = reverse("invite_to_pick", args=[diary.patient.pk])
    page = desk.post(address, {"visit_type": kind.pk}, follow=True)
    assert "The link to pick a time for “Consultation” is on its way." in words(page)
    assert "Asked to pick a time by link" in words(page)
    first = mailed()
    desk.post(address, {"visit_type": kind.pk})
    held = TimeInvitation.objects.get()
    assert held.times_sent == 2
    phone = known(Client(), mailed())
    assert phone.get(PICK).status_code == 200
    assert Client().post(first).status_code == CLOSED
    desk.post(reverse("invitation_take_back", args=[held.pk]))
    with nothing_written():
        assert phone.post(PICK, {"start_at": at(9).isoformat()}).status_code == CLOSED
        assert desk.post(reverse("invitation_take_back", args=[held.pk]), follow=True).status_code == 200
        with pytest.raises(InvitationOver):
            actions.pick(invitation=held, start_at=at(9), actor=actor_of(diary.desk), now=NOW)


def test_one_that_waits_to_go_out_is_stopped_with_the_invitation(diary: Cast, invitation: TimeInvitation) -> None:
    actions.take_invitation_back(invitation=invitation, user=diary.desk, actor=actor_of(diary.desk), now=NOW)
    assert DueMessage.objects.get().state == State.CANCELLED
    sweep(now=NOW)
    assert not mail.outbox


def test_it_runs_out(diary: Cast, phone: Client, invitation: TimeInvitation, clock: time_machine.Traveller) -> None:
    late = invitation.closes_at
    clock.move_to(late)
    with nothing_written():
        assert Client().post(newest_address()).status_code == CLOSED
        with pytest.raises(InvitationOver):
            actions.pick(invitation=invitation, start_at=late + timedelta(days=2), actor=actor_of(diary.desk), now=late)
    invite(diary, invitation.visit_type, now=late)
    assert list(TimeInvitation.objects.values_list("ended_because", flat=True)) == ["", "ran_out"]


def test_what_is_not_sent(diary: Cast, kind: VisitType) -> None:
    treatment, desk, patient = visit("treatment"), sign_in(diary.desk), diary.patient
    with nothing_written():
        with pytest.raises(NotForPatients):
            invite(diary, treatment)
        treatment.patient_may_book = True
        with pytest.raises(TreatmentNeedsItsCase):
            invite(diary, treatment)
        with pytest.raises(NotAllowed):
            invite(diary, kind, user=diary.manager)
        page = desk.post(reverse("invite_to_pick", args=[patient.pk]), {"visit_type": "x"}, follow=True)
    assert "Pick the visit, then send the link." in words(page)


def test_the_database_has_the_last_word(diary: Cast, invitation: TimeInvitation) -> None:
    row = TimeInvitation.objects.filter(pk=invitation.pk)
    wrong: list[dict[str, object]] = [
        {"closes_at": NOW},
        {"ended_at": NOW},
        {"ended_because": "picked"},
        {"ended_at": NOW, "ended_because": "picked"},
    ]
    for values in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            row.update(**values)
    again = {"site": diary.fernbrook, "patient": diary.patient, "visit_type": invitation.visit_type, "made_at": NOW}
    with pytest.raises(IntegrityError), transaction.atomic():
        TimeInvitation.objects.create(**again, made_by="Dana", closes_at=NOW + timedelta(days=1))

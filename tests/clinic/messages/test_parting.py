"""Two people after all: what was made while their records were joined follows its subject, and nothing of the one
stays open for the other."""

import re
from datetime import date, timedelta

import pytest
from django.core import mail
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.diary.models import Booking
from clinic.messages import claims, kinds, links, purposes, subjects
from clinic.messages.actions.asking import ask_new_link
from clinic.messages.actions.bouncing import mail_came_back
from clinic.messages.actions.reporting import settle_as_back
from clinic.messages.models import Call, DueMessage, Ended, Held, PrivateLink, Why
from clinic.messages.sweep import sweep_until_settled
from clinic.patients.actions import part_patients
from clinic.patients.actions.joining import InUseNow
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary import house
from tests.clinic.messages.entering import CLOSED, known, opened
from tests.clinic.patients.test_joining import again
from tests.clinic.patients.twice import join, second_record
from tests.support import nothing_written

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]

LATER = NOW + timedelta(minutes=1)


@pytest.fixture
def other(cast: Cast) -> Patient:
    house.furnish(cast)
    return second_record(cast)


@pytest.fixture
def booking(cast: Cast, other: Patient) -> Booking:
    return house.book(cast, house.at(12), patient=other)


def part(cast: Cast, alias: Patient) -> Patient:
    return part_patients(alias=alias, user=cast.manager, actor=actor_of(cast.manager), now=NOW + timedelta(minutes=5))


def path_in_mail() -> str:
    found = re.search(r"https?://[^/]+(/p/\S+)", str(mail.outbox[0].body))
    assert found is not None
    return found[1]


def test_whose_each_subject_is_can_be_told() -> None:
    used = {kind.subject_kind for kind in kinds.registered().values()}
    used |= {purpose.subject_kind for purpose in purposes.registered().values()}
    assert used <= subjects.registered()


def test_nobody_owns_what_no_part_knows(cast: Cast) -> None:
    assert subjects.owned("gone", [1], cast.patient) == set()


class TestFollowsItsSubject:
    def test_a_call(self, cast: Cast, other: Patient, booking: Booking) -> None:
        Patient.objects.filter(pk__in=[cast.patient.pk, other.pk]).update(channel="phone", phone="+442079460101")
        join(cast, again(cast.patient), again(other))
        sweep_until_settled(now=LATER)
        part(cast, other)
        calls = Call.objects.filter(message__subject_id=booking.pk)
        assert {(call.patient_id, call.message.patient_id) for call in calls} == {(other.pk, other.pk)}

    def test_a_further_try(self, cast: Cast, other: Patient, booking: Booking) -> None:
        Patient.objects.filter(pk=other.pk).update(phone="+447700900123")
        join(cast, cast.patient, again(other))
        sweep_until_settled(now=LATER)
        row = DueMessage.objects.get(subject_id=booking.pk, kind="visit_confirmed")
        settle_as_back(row, now=LATER)
        part(cast, other)
        about = DueMessage.objects.about(("booking", booking.pk))
        assert set(about.values_list("patient", flat=True)) == {other.pk}
        assert set(Call.objects.values_list("patient", flat=True)) <= {other.pk}

    def test_what_is_about_the_kept_one_stays(self, cast: Cast, other: Patient) -> None:
        mine = house.book(cast, house.at(10))
        Patient.objects.filter(pk=cast.patient.pk).update(channel="phone")
        join(cast, again(cast.patient), other)
        sweep_until_settled(now=LATER)
        part(cast, other)
        call = Call.objects.get(message__subject_id=mine.pk)
        assert (call.patient_id, call.message.patient_id) == (cast.patient.pk, cast.patient.pk)


class TestLinks:
    def test_one_that_went_to_the_wrong_person_is_closed(self, cast: Cast, other: Patient, booking: Booking) -> None:
        join(cast, cast.patient, other)
        sweep_until_settled(now=NOW)
        wrong = known(Client(), path_in_mail())
        assert wrong.get(reverse("before_visit")).status_code == 200
        part(cast, other)
        assert wrong.get(reverse("before_visit")).status_code == CLOSED
        link = PrivateLink.objects.get(subject_id=booking.pk)
        assert (link.patient_id, link.ended_because) == (other.pk, Ended.TAKEN_BACK)

    def test_the_wrong_person_gets_no_new_one(self, cast: Cast, other: Patient, booking: Booking) -> None:
        sweep_until_settled(now=NOW)
        theirs = PrivateLink.objects.get(subject_id=booking.pk)
        join(cast, cast.patient, other)
        made, _url = links.make(
            purpose=theirs.purpose, subject_id=booking.pk, patient=cast.patient, site=cast.fernbrook, now=LATER
        )
        part(cast, other)
        made.refresh_from_db()
        theirs.refresh_from_db()
        assert ask_new_link(link=made, now=NOW + timedelta(minutes=6)) is None
        assert (theirs.patient_id, theirs.ended_at) == (other.pk, None)

    def test_the_kept_ones_own_stays_open(self, cast: Cast, other: Patient) -> None:
        mine = house.book(cast, house.at(10))
        join(cast, cast.patient, other)
        sweep_until_settled(now=LATER)
        part(cast, other)
        assert PrivateLink.objects.get(subject_id=mine.pk).ended_at is None


class TestToldAgain:
    def test_what_went_to_the_kept_ones_address(self, cast: Cast, other: Patient, booking: Booking) -> None:
        join(cast, cast.patient, other)
        sweep_until_settled(now=LATER)
        assert [sent.to for sent in mail.outbox] == [["amara@example.org"]]
        part(cast, other)
        call = Call.objects.get()
        assert (call.patient_id, call.message.subject_id, call.why) == (other.pk, booking.pk, Why.OTHER_PERSON)

    def test_what_went_to_the_others_address(self, cast: Cast, other: Patient) -> None:
        """Theirs was chosen when the records were joined."""
        mine = house.book(cast, house.at(10))
        join(cast, cast.patient, other, taken=frozenset({"email"}))
        sweep_until_settled(now=LATER)
        assert [sent.to for sent in mail.outbox] == [["a.nwosu@example.org"]]
        part(cast, other)
        call = Call.objects.get()
        assert (call.patient_id, call.message.subject_id) == (cast.patient.pk, mine.pk)
        assert PrivateLink.objects.get(subject_id=mine.pk).ended_because == Ended.TAKEN_BACK

    def test_not_what_went_to_their_own(self, cast: Cast, other: Patient) -> None:
        house.book(cast, house.at(10), patient=other)
        sweep_until_settled(now=NOW)
        join(cast, cast.patient, other)
        part(cast, other)
        assert ([sent.to for sent in mail.outbox], Call.objects.count()) == ([["a.nwosu@example.org"]], 0)
        assert PrivateLink.objects.get().ended_at is None


class TestOnItsWay:
    """A sweeper holds one, with the address of the joined record read already."""

    @pytest.fixture
    def held(self, cast: Cast, other: Patient, booking: Booking) -> Held:
        join(cast, cast.patient, other)
        [message] = claims.claim(now=LATER, real_now=LATER, limit=1)
        return message

    def test_claimed_it_is_read_anew(self, cast: Cast, other: Patient, held: Held) -> None:
        part(cast, other)
        assert not claims.begin(held, message_id="one", real_now=LATER)
        sweep_until_settled(now=LATER)
        assert [sent.to for sent in mail.outbox] == [["a.nwosu@example.org"]]

    def test_handing_over_they_stay_joined(self, cast: Cast, other: Patient, held: Held) -> None:
        assert claims.begin(held, message_id="one", real_now=LATER)
        with nothing_written(), pytest.raises(InUseNow):
            part(cast, other)


class TestMailThatCameBack:
    """Noted by the program while they were joined."""

    def came_back(self, cast: Cast, address: str) -> None:
        with transaction.atomic():
            mail_came_back(patient=again(cast.patient), address=address, actor=SYSTEM, now=LATER)

    def test_from_the_others_address(self, cast: Cast, other: Patient) -> None:
        join(cast, cast.patient, other, taken=frozenset({"email"}))
        self.came_back(cast, "A.Nwosu@example.org")
        part(cast, other)
        kept, alone = again(cast.patient), again(other)
        assert kept.email == "amara@example.org"
        assert (kept.email_bounced_at, alone.email_bounced_at) == (None, LATER)

    def test_from_the_kept_ones_own(self, cast: Cast, other: Patient) -> None:
        join(cast, cast.patient, other)
        self.came_back(cast, "amara@example.org")
        part(cast, other)
        assert (again(cast.patient).email_bounced_at, again(other).email_bounced_at) == (LATER, None)

    def test_from_an_address_that_both_have(self, cast: Cast, other: Patient) -> None:
        Patient.objects.filter(pk=other.pk).update(email="amara@example.org")
        join(cast, cast.patient, again(other))
        self.came_back(cast, "amara@example.org")
        part(cast, other)
        assert (again(cast.patient).email_bounced_at, again(other).email_bounced_at) == (LATER, LATER)

    def test_an_older_mark_is_the_kept_ones_again(self, cast: Cast, other: Patient) -> None:
        Patient.objects.filter(pk=cast.patient.pk).update(email_bounced_at=NOW)
        join(cast, again(cast.patient), other, taken=frozenset({"email"}), now=LATER)
        self.came_back(cast, "a.nwosu@example.org")
        part(cast, other)
        assert (again(cast.patient).email_bounced_at, again(other).email_bounced_at) == (NOW, LATER)


def test_a_strangers_typing_does_not_keep_them_joined(cast: Cast) -> None:
    """Nor do five wrong dates, with which the link ends, or the wish for a new one."""
    house.furnish(cast)
    other = second_record(cast, birth_on=date(1971, 1, 2))
    house.book(cast, house.at(10), patient=other)
    sweep_until_settled(now=NOW)
    join(cast, cast.patient, other, birth_word="typing error", now=LATER)
    link = PrivateLink.objects.get()
    ask_new_link(link=link, now=LATER)
    phone = opened(Client(), path_in_mail())
    for _try in range(5):
        phone.post(reverse("private_who"), {"birth_on": "3 3 1973"})
    link.refresh_from_db()
    assert link.ended_because == Ended.BIRTH_TRIES
    assert part(cast, other).merged_into is None

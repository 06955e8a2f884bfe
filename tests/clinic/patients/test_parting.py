"""Two people after all: each record has again what it had, unless somebody has written about either since."""

from datetime import timedelta

import pytest
from django.db import transaction

from clinic.accounts.rights import NotAllowed
from clinic.messages.actions.planning import note
from clinic.messages.models import DueMessage
from clinic.patients.actions import choose_contact, details_of, part_patients
from clinic.patients.actions.parting import ErasedSince, NotJoined, WrittenSince
from clinic.patients.contact import contact
from clinic.patients.erasing import destroy_keys_of
from clinic.patients.models import Channel, Patient, Purpose
from clinic.trail.actor import SYSTEM
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary import house
from tests.clinic.patients.test_joining import again, said
from tests.clinic.patients.twice import join, second_record
from tests.support import nothing_written

pytestmark = pytest.mark.django_db


def part(cast: Cast, alias: Patient) -> Patient:
    return part_patients(alias=alias, user=cast.manager, actor=actor_of(cast.manager), now=NOW + timedelta(minutes=5))


def test_it_works(cast: Cast) -> None:
    other = second_record(cast, phone="+442079460109", allergies="latex")
    said(cast, other, Purpose.RECALL, False)
    before = details_of(cast.patient)
    join(cast, cast.patient, other, taken=frozenset({"phone", "email"}))
    alone = part(cast, other)
    assert (alone.merged_into, alone.merged_at) == (None, None)
    kept = again(cast.patient)
    assert (details_of(kept), kept.search_digits) == (before, "442079460101")
    assert (contact(kept).allowed[Purpose.RECALL], contact(alone).allowed[Purpose.RECALL]) == (True, False)
    assert set(TrailEntry.objects.order_by("-pk").values_list("verb", flat=True)[:2]) == {
        "patients.parted",
        "patients.parted_from",
    }


@pytest.mark.parametrize("purpose", list(Purpose))
@pytest.mark.parametrize("channel", [None, Channel.TEXT])
@pytest.mark.parametrize("theirs", [True, False])
def test_no_choice_is_invented(cast: Cast, purpose: Purpose, channel: Channel | None, theirs: bool) -> None:
    """Nothing had been said for the kept record: joined with the right one, that one's choice holds."""
    wrong, right = second_record(cast, "Wrong Person"), second_record(cast)
    before = contact(cast.patient)
    for one in (wrong, right):
        said(cast, one, purpose, theirs, channel=channel)
    join(cast, cast.patient, wrong)
    part(cast, wrong)
    between = contact(cast.patient)
    assert (between.allowed, between.refused) == (before.allowed, before.refused)
    join(cast, again(cast.patient), right, now=NOW + timedelta(hours=1))
    now = contact(cast.patient)
    assert (now.allowed[purpose] if channel is None else (purpose, channel) not in now.refused) is theirs


def test_a_choice_that_was_made_holds_again(cast: Cast) -> None:
    other = second_record(cast)
    said(cast, cast.patient, Purpose.RECALL, True)
    said(cast, other, Purpose.RECALL, False)
    join(cast, cast.patient, other)
    part(cast, other)
    assert str(cast.patient.contact_choices.order_by("-pk")[0]).endswith("yes")
    assert contact(cast.patient).allowed[Purpose.RECALL] is True


def test_visits_and_messages_go_back(cast: Cast) -> None:
    house.furnish(cast)
    other = second_record(cast)
    mine, theirs = house.book(cast, house.at(10)), house.book(cast, house.at(12), patient=other)
    join(cast, cast.patient, other)
    part(cast, other)
    for booking, patient in ((mine, cast.patient), (theirs, other)):
        booking.refresh_from_db()
        assert booking.patient_id == patient.pk
        about = DueMessage.objects.about(("booking", booking.pk))
        assert set(about.values_list("patient", flat=True)) == {patient.pk}


def test_what_was_due_goes_out_and_changes_nothing(cast: Cast) -> None:
    house.furnish(cast)
    other = second_record(cast)
    house.book(cast, house.at(12), patient=other)
    join(cast, cast.patient, other)
    with transaction.atomic():
        note(DueMessage.objects.filter(patient=cast.patient)[0], verb="messages.handed_over", actor=SYSTEM)
    assert part(cast, other).pk == other.pk


class TestRefused:
    def test_not_joined(self, cast: Cast) -> None:
        patient = cast.patient
        with nothing_written(), pytest.raises(NotJoined):
            part(cast, patient)

    def test_twice(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        part(cast, other)
        with nothing_written(), pytest.raises(NotJoined):
            part(cast, other)

    @pytest.mark.parametrize("about", ["kept", "alias"])
    def test_written_since(self, cast: Cast, about: str) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        choose_contact(
            patient=cast.patient if about == "kept" else other,
            choices={Purpose.RECALL: False},
            wordings={Purpose.RECALL: "No."},
            actor=actor_of(cast.desk),
            now=NOW,
        )
        with nothing_written(), pytest.raises(WrittenSince, match="recorded how the patient wants to be reached"):
            part(cast, other)

    def test_a_visit_was_booked_since(self, cast: Cast) -> None:
        house.furnish(cast)
        other = second_record(cast)
        join(cast, cast.patient, other)
        house.book(cast, house.at(10))
        with nothing_written(), pytest.raises(WrittenSince, match="booked"):
            part(cast, other)

    def test_a_third_record_was_joined_since(self, cast: Cast) -> None:
        """The last one comes apart first."""
        second, third = second_record(cast), second_record(cast, "A. Nwosu")
        join(cast, cast.patient, second)
        join(cast, again(cast.patient), third)
        with nothing_written(), pytest.raises(WrittenSince):
            part(cast, second)
        assert part(cast, third).pk == third.pk

    def test_its_record_was_joined_with_a_further_one(self, cast: Cast) -> None:
        second, third = second_record(cast), second_record(cast, "A. Nwosu")
        join(cast, second, third)
        join(cast, cast.patient, again(second))
        with nothing_written(), pytest.raises(WrittenSince):
            part(cast, third)
        part(cast, second)
        assert again(third).merged_into_id == second.pk

    def test_erased_since(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        destroy_keys_of(cast.patient)
        with nothing_written(), pytest.raises(ErasedSince):
            part(cast, other)

    def test_wrong_role(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        with nothing_written(), pytest.raises(NotAllowed):
            part_patients(alias=other, user=cast.desk, actor=actor_of(cast.desk), now=NOW)

"""Two records of one person: joined once, nothing lost, and refused where nobody could say what then holds."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from clinic.accounts.models import Role
from clinic.accounts.rights import NotAllowed
from clinic.patients.actions import (
    ChangedMeanwhile,
    change_patient,
    choose_contact,
    details_of,
    note_death,
    note_move,
    number_is_wrong,
)
from clinic.patients.actions.joined_details import AllergiesTooLong, NoWayToReach
from clinic.patients.actions.joining import BirthDatesDiffer, JoinedAlready, OneHasLeft, OtherSite, SameRecord, WhySame
from clinic.patients.contact import contact
from clinic.patients.models import Channel, Patient, Purpose
from clinic.patients.person import JoinedMeanwhile, hold_person
from clinic.patients.search import find, identity_of, likely_duplicates
from clinic.trail.erasure import reveal
from clinic.trail.models import TrailEntry
from clinic.trail.refusals import Refusal
from tests.cast import NOW, Cast, actor_of, works_also
from tests.clinic.patients.people import registered
from tests.clinic.patients.twice import WHY, join, second_record
from tests.support import nothing_written

pytestmark = pytest.mark.django_db


def again(patient: Patient) -> Patient:
    return Patient.objects.get(pk=patient.pk)


def test_it_works(cast: Cast) -> None:
    kept, other = cast.patient, second_record(cast)
    joined = join(cast, kept, other)
    alias = again(other)
    assert joined.pk == kept.pk
    assert (alias.merged_into_id, alias.merged_at, alias.version) == (kept.pk, NOW, 2)
    # Nothing of the other record is written anew.
    assert details_of(alias) == details_of(other)
    assert details_of(again(kept)) == details_of(kept)


def test_the_trail_tells_it_on_both(cast: Cast) -> None:
    kept, other = cast.patient, second_record(cast)
    join(cast, kept, other)
    on_kept, on_other = (
        TrailEntry.objects.get(verb="patients.joined"),
        TrailEntry.objects.get(verb="patients.joined_into"),
    )
    assert (on_kept.patient_id, on_other.patient_id) == (kept.pk, other.pk)
    assert reveal(on_kept)["other"] == other.pk  # type: ignore[index]
    assert reveal(on_other) == {"kept": kept.pk, "reason": WHY, "birth_word": ""}


def too_long(cast: Cast) -> tuple[Patient, Patient]:
    return registered(cast, "One", allergies="a" * 200), registered(cast, "Two", allergies="b" * 200)


def died(cast: Cast) -> tuple[Patient, Patient]:
    other = second_record(cast)
    note_death(patient=other, actor=actor_of(cast.desk), now=NOW)
    return cast.patient, other


def moved(cast: Cast) -> tuple[Patient, Patient]:
    other = second_record(cast)
    note_move(patient=other, actor=actor_of(cast.desk), now=NOW)
    return other, cast.patient


def joined_before(cast: Cast) -> tuple[Patient, Patient]:
    other = second_record(cast)
    join(cast, cast.patient, other)
    return registered(cast, "A third one"), other


def joined_itself(cast: Cast) -> tuple[Patient, Patient]:
    one, other = joined_before(cast)
    return other, one


def at_two_sites(cast: Cast) -> tuple[Patient, Patient]:
    works_also(cast.manager, cast.alderton, Role.MANAGER)
    return cast.patient, cast.stranger


@pytest.mark.parametrize(
    ("both", "changed", "refusal"),
    [
        (lambda cast: (cast.patient, cast.patient), {}, SameRecord),
        (lambda cast: (cast.patient, second_record(cast)), {"reason": "  "}, WhySame),
        (at_two_sites, {}, OtherSite),
        (joined_before, {}, JoinedAlready),
        (joined_itself, {}, JoinedAlready),
        (lambda cast: (cast.patient, second_record(cast, birth_on=date(1990, 5, 7))), {}, BirthDatesDiffer),
        (died, {}, OneHasLeft),
        (moved, {}, OneHasLeft),
        (lambda cast: (cast.patient, second_record(cast, email="")), {"taken": frozenset({"email"})}, NoWayToReach),
        (too_long, {}, AllergiesTooLong),
        (lambda cast: (cast.patient, second_record(cast)), {"seen": {}}, ChangedMeanwhile),
    ],
)
def test_refused(
    cast: Cast, both: Callable[[Cast], tuple[Patient, Patient]], changed: dict[str, Any], refusal: type[Refusal]
) -> None:
    kept, other = both(cast)
    with nothing_written(), pytest.raises(refusal):
        join(cast, kept, other, **changed)


@pytest.mark.parametrize("who", ["desk", "assistant", "clinician", "hygienist", "elsewhere"])
def test_only_a_manager_of_the_site_joins(cast: Cast, who: str) -> None:
    kept, other = cast.patient, second_record(cast)
    with nothing_written(), pytest.raises(NotAllowed):
        join(cast, kept, other, user=getattr(cast, who))


def test_somebody_changed_one_of_them_meanwhile(cast: Cast) -> None:
    kept, other = cast.patient, second_record(cast)
    seen = {kept.pk: kept.version, other.pk: other.version}
    desk = cast.desk
    changed = replace(details_of(other), allergies="latex")
    change_patient(patient=other, details=changed, seen_version=1, user=desk, actor=actor_of(desk), now=NOW)
    with nothing_written(), pytest.raises(ChangedMeanwhile):
        join(cast, kept, other, seen=seen)


class TestWhatHolds:
    def test_each_detail_as_chosen(self, cast: Cast) -> None:
        other = second_record(cast, phone="+442079460109", own_dentist="Dr Vale", needs_interpreter=True)
        kept = again(join(cast, cast.patient, other, taken=frozenset({"phone", "interpreter"})))
        assert (kept.phone.as_e164, kept.email, kept.own_dentist) == ("+442079460109", "amara@example.org", "")
        assert (kept.name, kept.needs_interpreter) == ("Amara Nwosu", True)

    def test_found_by_the_number_that_was_chosen(self, cast: Cast) -> None:
        other = second_record(cast, phone="+442079460109")
        join(cast, cast.patient, other, taken=frozenset({"phone"}))
        assert find(asked="020 7946 0109", user=cast.desk) == [cast.patient]

    def test_one_date_of_birth_was_a_typing_error(self, cast: Cast) -> None:
        other = second_record(cast, birth_on=date(1990, 5, 7))
        kept = again(join(cast, cast.patient, other, birth_word="Read again from the passport."))
        assert kept.birth_on == date(1990, 5, 17)

    @pytest.mark.parametrize(
        ("mine", "theirs", "held"),
        [
            ("latex", "", "latex"),
            ("", "latex", "latex"),
            ("latex", "penicillin", "latex; penicillin"),
            ("Latex, nickel", "latex", "Latex, nickel"),
            ("latex", "Latex, nickel", "Latex, nickel"),
            ("Nickel; latex", "latex\nnickel", "Nickel; latex"),
            # Inside another word, or beside a no, it is another entry.
            ("coconut", "nut", "coconut; nut"),
            ("egg", "eggplant", "egg; eggplant"),
            ("no latex allergy known", "latex", "no latex allergy known; latex"),
            # A no may go for its neighbours, before or behind it.
            ("No allergy to latex, nickel", "nickel", "No allergy to latex, nickel; nickel"),
            ("nickel", "No allergy to latex, nickel", "nickel; No allergy to latex, nickel"),
            ("nickel, latex, none of them today", "nickel", "nickel, latex, none of them today; nickel"),
            (
                "nickel; no allergy to latex",
                "no allergy to latex; nickel",
                "nickel; no allergy to latex; no allergy to latex; nickel",
            ),
            ("No allergy to latex, nickel", "no allergy to latex; nickel", "No allergy to latex, nickel"),
        ],
    )
    def test_allergies_of_both(self, cast: Cast, mine: str, theirs: str, held: str) -> None:
        one, other = registered(cast, "One", allergies=mine), registered(cast, "Two", allergies=theirs)
        assert again(join(cast, one, other)).allergies == held

    def test_an_address_that_one_record_knows_to_be_wrong_is_wrong(self, cast: Cast) -> None:
        other = second_record(cast, phone="+442079460101", email="amara@example.org")
        Patient.objects.filter(pk=other.pk).update(email_bounced_at=NOW)
        number_is_wrong(patient=other, actor=actor_of(cast.desk), now=NOW)
        kept = again(join(cast, cast.patient, other))
        assert (kept.email_bounced_at, kept.phone_wrong_at) == (NOW, NOW)

    def test_an_address_is_the_same_in_capitals(self, cast: Cast) -> None:
        other = second_record(cast, email="Amara@Example.org")
        Patient.objects.filter(pk=other.pk).update(email_bounced_at=NOW)
        assert again(join(cast, cast.patient, again(other))).email_bounced_at == NOW

    def test_a_mark_of_the_address_that_was_not_chosen_goes_with_it(self, cast: Cast) -> None:
        other = second_record(cast)
        Patient.objects.filter(pk=cast.patient.pk).update(email_bounced_at=NOW)
        kept = again(join(cast, again(cast.patient), other, taken=frozenset({"email"})))
        assert (kept.email, kept.email_bounced_at) == ("a.nwosu@example.org", None)


class TestWhatMayBeWritten:
    @pytest.mark.parametrize(
        ("purpose", "mine", "theirs", "held"),
        [
            (Purpose.APPOINTMENT, None, None, True),
            (Purpose.APPOINTMENT, None, False, False),
            (Purpose.APPOINTMENT, True, False, False),
            (Purpose.APPOINTMENT, False, True, False),
            (Purpose.APPOINTMENT, False, None, False),
            (Purpose.COLOUR, None, None, False),
            # Asked for under the other record, and never refused.
            (Purpose.COLOUR, None, True, True),
            (Purpose.COLOUR, False, True, False),
            (Purpose.COLOUR, True, False, False),
        ],
    )
    def test_a_no_of_either_is_a_no(
        self, cast: Cast, purpose: Purpose, mine: bool | None, theirs: bool | None, held: bool
    ) -> None:
        other = second_record(cast)
        said(cast, cast.patient, purpose, mine)
        said(cast, other, purpose, theirs)
        join(cast, cast.patient, other)
        assert contact(cast.patient).allowed[purpose] is held

    def test_a_way_that_was_ended(self, cast: Cast) -> None:
        other = second_record(cast)
        said(cast, other, Purpose.SAFETY, False, channel=Channel.TEXT)
        join(cast, cast.patient, other)
        assert contact(cast.patient).ways(Purpose.SAFETY) == (Channel.EMAIL,)

    def test_the_very_words_are_kept(self, cast: Cast) -> None:
        other = second_record(cast)
        said(cast, other, Purpose.RECALL, False)
        join(cast, cast.patient, other)
        row = cast.patient.contact_choices.get()
        assert (row.wording, row.allowed, row.chosen_by) == ("Yes or no.", False, cast.manager.name)


def said(
    cast: Cast,
    patient: Patient,
    purpose: Purpose,
    allowed: bool | None,
    *,
    channel: Channel | None = None,
    now: datetime = NOW,
) -> None:
    if allowed is not None:
        choose_contact(
            patient=patient,
            choices={purpose: allowed},
            wordings={purpose: "Yes or no."},
            actor=actor_of(cast.desk),
            now=now,
            channel=channel,
        )


class TestAfterwards:
    def test_the_alias_is_offered_nowhere(self, cast: Cast) -> None:
        other = second_record(cast)
        assert likely_duplicates(identity=identity_of(cast.patient), site=cast.fernbrook, without=cast.patient.pk)
        join(cast, cast.patient, other)
        assert find(asked="Amara Nwosu", user=cast.desk) == [cast.patient]
        assert not likely_duplicates(identity=identity_of(cast.patient), site=cast.fernbrook, without=cast.patient.pk)

    def test_what_comes_late_for_the_alias_is_about_the_person(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        assert hold_person(other).pk == cast.patient.pk
        said(cast, other, Purpose.RECALL, False)
        note_death(patient=other, actor=actor_of(cast.desk), now=NOW)
        assert contact(cast.patient).allowed[Purpose.RECALL] is False
        assert again(cast.patient).died_on is not None

    def test_the_details_of_an_alias_are_not_changed(self, cast: Cast) -> None:
        other, desk = second_record(cast), cast.desk
        join(cast, cast.patient, other)
        with nothing_written(), pytest.raises(JoinedMeanwhile):
            change_patient(
                patient=other, details=details_of(other), seen_version=1, user=desk, actor=actor_of(desk), now=NOW
            )

    def test_a_third_record_joins_the_same_one(self, cast: Cast) -> None:
        """Whatever was joined before points at the one that is kept in the end."""
        second, third = second_record(cast), second_record(cast, "A. Nwosu")
        join(cast, second, third)
        join(cast, cast.patient, again(second))
        assert {again(one).merged_into_id for one in (second, third)} == {cast.patient.pk}

    def test_both_died(self, cast: Cast) -> None:
        other = second_record(cast)
        for one in (cast.patient, other):
            note_death(patient=one, actor=actor_of(cast.desk), now=NOW)
        join(cast, again(cast.patient), again(other))
        assert again(other).merged_into_id == cast.patient.pk

"""Which kinds of visit a person does: all, until a manager takes one away."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Membership, Role, User
from clinic.accounts.rights import NotAllowed
from clinic.diary.actions import OutsideOpeningHours, setting_up
from clinic.diary.models import VisitCode, VisitType
from clinic.diary.outside import visits_outside
from clinic.diary.resources import candidates
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, resource, visit
from tests.support import nothing_written


@pytest.fixture(autouse=True)
def at_now() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def manager(diary: Cast) -> Client:
    return sign_in(diary.manager)


def send(client: Client, *codes: str, who: str = "Cleo Haddad", **typed: object) -> Answer:
    picked = [str(visit(code).pk) for code in codes]
    address = reverse("setup_person_visits", args=[resource(who).pk])
    return client.post(address, {"visit_types": picked} | typed)


def who_serves(cast: Cast, code: str) -> list[str]:
    found = candidates(cast.fernbrook, ["clinician"], day=DAY, visit_type=visit(code))
    return sorted(one.name for one in found["clinician"])


def test_it_works(diary: Cast, manager: Client) -> None:
    everybody = ["Bo Lindqvist", "Cleo Haddad"]
    assert who_serves(diary, VisitCode.REVIEW) == who_serves(diary, VisitCode.CONSULTATION) == everybody
    page = manager.get(reverse("setup_person_visits", args=[resource("Cleo Haddad").pk]))
    assert set(page.context["form"]["visit_types"].value()) == set(VisitType.objects.values_list("pk", flat=True))
    assert send(manager, VisitCode.CONSULTATION, VisitCode.PROBLEM).status_code == 302
    assert who_serves(diary, VisitCode.CONSULTATION) == everybody
    assert who_serves(diary, VisitCode.REVIEW) == ["Bo Lindqvist"]
    # A room and a light serve as before, and so does a kind of visit that is added later.
    found = candidates(diary.fernbrook, ["room"], day=DAY, visit_type=visit(VisitCode.REVIEW))
    assert [one.name for one in found["room"]] == ["Willow", "Alder"]
    VisitType.objects.create(site=diary.fernbrook, code=VisitCode.OTHER, name="Other")
    assert who_serves(diary, VisitCode.OTHER) == everybody
    patient = diary.patient
    with nothing_written(), pytest.raises(OutsideOpeningHours):
        book(diary, at(9), patient=patient, code=VisitCode.REVIEW, person=resource("Cleo Haddad").pk)
    hours = manager.get(reverse("setup_hours", args=[resource("Cleo Haddad").pk])).content.decode()
    assert "Impressions or scan, Month review, Scale and polish, Tray fitting, Whitening session" in hours
    (entry,) = TrailEntry.objects.filter(verb="diary.resource_changed", subject_id=str(resource("Cleo Haddad").pk))[1:]
    assert "does_not_do" in entry.fields
    assert send(manager, *VisitCode.values[:4]).status_code == 302
    assert who_serves(diary, VisitCode.REVIEW) == everybody


def test_what_is_booked_already_is_shown_first_and_becomes_a_to_do(diary: Cast, manager: Client) -> None:
    held = book(diary, at(9), code=VisitCode.REVIEW, person=resource("Cleo Haddad").pk)
    book(diary, at(11), patient=another_patient(diary), person=resource("Cleo Haddad").pk)
    with nothing_written():
        page = send(manager, VisitCode.CONSULTATION)
    assert page.status_code == 409
    assert [one.booking.pk for one in page.context["visits"]] == [held.pk]
    assert "Cleo Haddad: does not do this kind of visit" in page.content.decode()
    assert send(manager, VisitCode.CONSULTATION, anyway="1", agreed=[str(held.pk)]).status_code == 302
    assert [one.booking.pk for one in visits_outside(diary.fernbrook, now=NOW)] == [held.pk]
    assert send(manager, VisitCode.CONSULTATION, VisitCode.REVIEW).status_code == 302
    assert visits_outside(diary.fernbrook, now=NOW) == []


def test_wrong_role_other_site_and_what_is_no_person(diary: Cast, manager: Client) -> None:
    desk = sign_in(diary.desk)
    stranger = sign_in(hire(diary.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org"))
    with nothing_written():
        assert send(desk).status_code == 403
        assert send(stranger).status_code == 404
        assert send(manager, who="Willow").status_code == 404
        assert (
            manager.post(
                reverse("setup_person_visits", args=[resource("Cleo Haddad").pk]), {"visit_types": ["9999"]}
            ).status_code
            == 422
        )
        with pytest.raises(NotAllowed):
            setting_up.set_visits(
                resource=resource("Cleo Haddad"),
                visit_types=[],
                user=diary.desk,
                actor=actor_of(diary.desk),
                now=NOW,
            )


LEFT, NO_RIGHT = "does not work here any more", "does not have the right to do this any more"
RAN_OUT = "registration or indemnity valid until Tue 3 Mar 2026 only"


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        (lambda cleo: User.objects.filter(pk=cleo).update(is_active=False), LEFT),
        (lambda cleo: User.objects.filter(pk=cleo).update(may_examine_and_decide=False), NO_RIGHT),
        (lambda cleo: User.objects.filter(pk=cleo).update(registration_expires_on=DAY - timedelta(days=1)), RAN_OUT),
        (lambda cleo: User.objects.filter(pk=cleo).update(indemnity_expires_on=DAY - timedelta(days=1)), RAN_OUT),
        (lambda cleo: Membership.objects.filter(user=cleo, role=Role.CLINICIAN).delete(), LEFT),
        (lambda cleo: Membership.objects.filter(user=cleo).update(role=Role.ASSISTANT), NO_RIGHT),
    ],
)
def test_what_somebody_had_booked_who_may_not_do_it_any_more_becomes_a_to_do(
    diary: Cast, gone: Callable[[int], object], said: str
) -> None:
    held = book(diary, at(9), person=resource("Cleo Haddad").pk)
    book(diary, at(9), patient=another_patient(diary), person=resource("Bo Lindqvist").pk)
    assert visits_outside(diary.fernbrook, now=NOW) == []
    gone(diary.clinician.pk)
    (one,) = visits_outside(diary.fernbrook, now=NOW)
    assert one.booking.pk == held.pk
    ((whom, why),) = [(miss.whom, str(miss.why)) for miss in one.misses]
    assert (whom, why) == ("Cleo Haddad", said)


def test_until_the_last_day_of_a_registration_nothing_is_to_do(diary: Cast) -> None:
    book(diary, at(9), person=resource("Cleo Haddad").pk)
    User.objects.filter(pk=diary.clinician.pk).update(registration_expires_on=DAY, indemnity_expires_on=DAY)
    assert visits_outside(diary.fernbrook, now=NOW) == []


def test_new_hours_of_somebody_who_may_not_do_it_any_more_hit_nothing_anew(diary: Cast, manager: Client) -> None:
    book(diary, at(9), person=resource("Cleo Haddad").pk)
    User.objects.filter(pk=diary.clinician.pk).update(is_active=False)
    who: dict[str, Any] = {"user": diary.manager, "actor": actor_of(diary.manager)}
    setting_up.end_hours(resource=resource("Cleo Haddad"), weekdays=range(5), from_on=DAY, **who)
    assert len(visits_outside(diary.fernbrook, now=NOW)) == 1

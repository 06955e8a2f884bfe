"""What a manager does about people, and what nobody may do about themselves."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.actions import people
from clinic.accounts.models import Membership, OnCallTurn, Role, Site, User
from clinic.accounts.refusals import LastManager, OnCall
from clinic.accounts.rights import NotAllowed
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, hire, sign_in
from tests.clinic.accounts.support import type_password
from tests.support import nothing_written

ARI = {
    "name": "Ari Zieliński",
    "initials": "AZ",
    "roles": ["assistant", "clinician"],
    "profession": "hygienist",
    "registration_number": "H-7",
    "registration_expires_on": "31 12 2030",
    "indemnity_expires_on": "",
    "may_carry_out": "on",
}


def save(client: Client, person: User, **changes: object) -> Answer:
    return client.post(reverse("person", kwargs={"pk": person.pk}), ARI | changes)


def press(client: Client, name: str, person: User) -> Answer:
    return client.post(reverse(name, kwargs={"pk": person.pk}), follow=True)


def test_it_works(cast: Cast) -> None:
    assert save(sign_in(cast.manager), cast.assistant).status_code == 302
    ari = User.objects.get(pk=cast.assistant.pk)
    assert ari.roles_at(cast.fernbrook) == {Role.ASSISTANT, Role.CLINICIAN}
    assert (ari.profession, ari.registration_expires_on, ari.indemnity_expires_on) == (
        "hygienist",
        date(2030, 12, 31),
        None,
    )
    assert (ari.may_carry_out, ari.may_examine_and_decide) == (True, False)
    entry = TrailEntry.objects.latest("pk")
    assert entry.verb == "accounts.person_changed"
    assert entry.fields == "may_carry_out profession registration_expires_on registration_number roles"


def test_a_telephone_for_texts(cast: Cast) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        refused = save(client, cast.assistant, phone="call me")
    assert refused.status_code == 422
    assert save(client, cast.assistant, phone="+44 7700 900123").status_code == 302
    assert str(User.objects.get(pk=cast.assistant.pk).phone) == "+447700900123"


def test_nothing_changed_writes_nothing(cast: Cast) -> None:
    client = sign_in(cast.manager)
    save(client, cast.assistant)
    with nothing_written():
        assert save(client, cast.assistant).status_code == 302


def test_wrong_role(cast: Cast) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert save(client, cast.assistant).status_code == 403


def test_other_site(cast: Cast) -> None:
    client = sign_in(hire(cast.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org"))
    with nothing_written():
        assert save(client, cast.assistant).status_code == 404


def test_wrong_method(cast: Cast) -> None:
    client = sign_in(cast.manager)
    assert client.get(reverse("person_end", kwargs={"pk": cast.desk.pk})).status_code == 405


def test_the_action_asks_too(cast: Cast) -> None:
    with nothing_written(), pytest.raises(NotAllowed):
        people.deactivate(
            person=cast.desk, site=cast.fernbrook, user=cast.clinician, actor=cast.clinician.actor, now=NOW
        )


def test_roles_of_the_other_site_stay(cast: Cast) -> None:
    Membership.objects.create(user=cast.assistant, site=cast.alderton, role=Role.DESK)
    save(sign_in(cast.manager), cast.assistant, roles=["desk"])
    ari = User.objects.get(pk=cast.assistant.pk)
    assert ari.roles_at(cast.alderton) == {Role.DESK}
    assert ari.roles_at(cast.fernbrook) == {Role.DESK}


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"roles": []}, "Leave at least one role."),
        ({"roles": ["owner"]}, "Choose one from the list"),
        ({"registration_expires_on": "31 2 2030"}, "This is not a date."),
        ({"name": ""}, "Fill this in."),
        ({"initials": "ABCDE"}, "This is too long"),
    ],
)
def test_bad_input(cast: Cast, change: dict[str, object], sentence: str) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        answer = save(client, cast.assistant, **change)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_ended_access_ends_every_session(cast: Cast) -> None:
    desk = sign_in(cast.desk)
    page = press(sign_in(cast.manager), "person_end", cast.desk)
    assert "Access has ended, at every computer." in page.content.decode()
    assert desk.get(reverse("own_account")).status_code == 302
    type_password(client := Client(), cast.desk)
    assert client.get(reverse("own_account")).status_code == 302


def test_access_given_again(cast: Cast) -> None:
    manager = sign_in(cast.manager)
    press(manager, "person_end", cast.desk)
    press(manager, "person_return", cast.desk)
    type_password(client := Client(), cast.desk)
    assert client.get(reverse("own_account")).status_code == 200


def test_whoever_is_on_call_stays(cast: Cast) -> None:
    manager = sign_in(cast.manager)
    with nothing_written():
        page = press(manager, "person_end", cast.clinician)
    assert "This person is on call at the site." in page.content.decode()


def test_nobody_ends_their_own_access(cast: Cast) -> None:
    hire(cast.fernbrook, Role.MANAGER, name="Second Manager", email="second@example.org")
    manager = sign_in(cast.manager)
    with nothing_written():
        page = press(manager, "person_end", cast.manager)
        assert save(manager, cast.manager, roles=["desk"]).status_code == 422
    assert "You cannot end your own access" in page.content.decode()


def test_a_site_keeps_a_manager(cast: Cast) -> None:
    """The second manager is of both sites; at the other one, the first is the last there is."""
    second = hire(cast.alderton, Role.MANAGER, name="Second Manager", email="second@example.org")
    other = hire(cast.alderton, Role.MANAGER, name="Other Manager", email="other@example.org")
    people.deactivate(person=other, site=cast.alderton, user=second, actor=second.actor, now=NOW)
    with pytest.raises(LastManager):
        people._check_manager_may_go(person=second, site=cast.alderton, user=cast.manager)


def test_a_lost_factor(cast: Cast) -> None:
    clinician = sign_in(cast.clinician)
    page = press(sign_in(cast.manager), "person_factor", cast.clinician)
    assert "opens nothing any more" in page.content.decode()
    assert not Authenticator.objects.filter(user=cast.clinician).exists()
    assert clinician.get(reverse("own_account")).status_code == 302
    assert TrailEntry.objects.latest("pk").verb == "accounts.factor_reset"
    type_password(client := Client(), cast.clinician)
    assert client.get(reverse("own_account")).headers["Location"] == reverse("mfa_activate_totp")


def test_no_factor_to_lose(cast: Cast) -> None:
    manager = sign_in(cast.manager)
    with nothing_written():
        page = press(manager, "person_factor", cast.desk)
    assert "has no second factor" in page.content.decode()


def test_nobody_resets_their_own_factor(cast: Cast) -> None:
    manager = sign_in(cast.manager)
    with nothing_written():
        press(manager, "person_factor", cast.manager)
    assert Authenticator.objects.filter(user=cast.manager).exists()


def test_the_list_names_everybody_once(cast: Cast) -> None:
    Membership.objects.create(user=cast.desk, site=cast.fernbrook, role=Role.ASSISTANT)
    page = sign_in(cast.manager).get(reverse("people")).content.decode()
    assert page.count("Dana Popescu") == 1
    assert "Noor Bianchi" not in page
    assert "5 people work here" in page


def test_an_address_is_one_person_whatever_its_case(cast: Cast) -> None:
    assert User.objects.create_user("New@Example.ORG", None, name="New").email == "new@example.org"
    assert Site.objects.count() == 2


def test_a_longer_list_asks_no_more_often(cast: Cast) -> None:
    client = sign_in(cast.manager)
    client.get(reverse("people"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("people"))
    for number in range(10):
        hire(cast.fernbrook, Role.DESK, name=f"Temp {number}", email=f"temp{number}@example.org")
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("people"))
    assert len(many) == len(few)


def test_a_turn_that_is_given_in_the_same_moment_is_seen(cast: Cast) -> None:
    """Somebody gives them a turn after the press and before their row is ours: it counts."""
    given: list[OnCallTurn] = []

    def meanwhile(execute: Callable[..., Any], sql: str, params: object, many: bool, context: object) -> object:
        if f'FROM "{User._meta.db_table}"' in sql and "SELECT" in sql and not given:
            given.append(
                OnCallTurn(site=cast.fernbrook, person=cast.hygienist, from_at=NOW, until_at=NOW + timedelta(hours=12))
            )
            given[0].save()
        return execute(sql, params, many, context)

    actor = cast.manager.actor
    with connection.execute_wrapper(meanwhile), pytest.raises(OnCall):
        people.deactivate(person=cast.hygienist, site=cast.fernbrook, user=cast.manager, actor=actor, now=NOW)
    assert given
    assert User.objects.get(pk=cast.hygienist.pk).is_active
    assert not TrailEntry.objects.filter(verb="accounts.person_deactivated").exists()

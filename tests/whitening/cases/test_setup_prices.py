"""Set-up of the prices: per site, added, changed, taken out of use."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Membership, Role
from clinic.accounts.rights import NotAllowed
from clinic.accounts.setup_pages import registered
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import Cast, actor_of, hire, sign_in
from tests.support import nothing_written
from whitening.cases.actions import setting_up
from whitening.cases.models import Price

ONE = {"name": "Whitening, one session with review", "sessions": "1", "amount": "390.00", "active": "on"}


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


@pytest.fixture
def price(cast: Cast, manager: Client) -> Price:
    assert manager.post(reverse("price_new"), ONE).status_code == 302
    return Price.objects.get()


def change(client: Client, price: Price, seen_version: int = 1, **typed: str) -> Answer:
    address = reverse("price", kwargs={"pk": price.pk})
    return client.post(address, ONE | {"seen_version": str(seen_version)} | typed)


def test_it_works(cast: Cast, manager: Client, price: Price) -> None:
    assert (price.site, price.sessions, price.amount, price.active) == (cast.fernbrook, 1, Decimal(390), True)
    entry = TrailEntry.objects.latest("pk")
    assert (entry.verb, entry.subject_id, entry.fields) == (
        "cases.price_changed",
        str(price.pk),
        "active amount name sessions",
    )
    page = manager.get(reverse("setup_prices")).content.decode()
    assert "1 price is set up at this site" in page
    assert "1 session · 390.00 GBP" in page


def test_wrong_role(cast: Cast, price: Price) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        assert client.post(reverse("price_new"), ONE).status_code == 403
        assert change(client, price, amount="1").status_code == 403
    details = setting_up.PriceDetails(name="Other", sessions=1, amount=Decimal(1))
    with nothing_written(), pytest.raises(NotAllowed):
        setting_up.add_price(site=cast.fernbrook, details=details, user=cast.desk, actor=actor_of(cast.desk))


def test_other_site(cast: Cast, price: Price) -> None:
    person = hire(cast.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org")
    stranger = sign_in(person)
    with nothing_written():
        assert change(stranger, price, amount="1").status_code == 404
    assert price.name not in stranger.get(reverse("setup_prices")).content.decode()
    # A desk here and a manager there does not make a manager here.
    Membership.objects.create(user=person, site=cast.fernbrook, role=Role.DESK)
    both = sign_in(person)
    both.post(reverse("switch_site"), {"site": cast.alderton.pk})
    with nothing_written():
        assert change(both, price, amount="1").status_code == 403


def test_wrong_method(manager: Client, price: Price) -> None:
    assert manager.delete(reverse("price", kwargs={"pk": price.pk})).status_code == 405


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "a\x00"}, "name"),
        ({"sessions": "0"}, "sessions"),
        ({"sessions": "7"}, "sessions"),
        ({"amount": "-1"}, "amount"),
        ({"amount": ""}, "amount"),
        ({"amount": "390.001"}, "amount"),
        ({"amount": "12345678.00"}, "amount"),
        ({"amount": "Infinity"}, "amount"),
    ],
)
def test_bad_input(manager: Client, typed: dict[str, str], field: str) -> None:
    with nothing_written():
        page = manager.post(reverse("price_new"), ONE | typed)
    assert page.status_code == 422
    assert field in page.context["form"].errors
    assert page.context["form"][field].value() == typed[field]


def test_a_name_in_use_at_this_site(cast: Cast, manager: Client, price: Price) -> None:
    with nothing_written():
        page = manager.post(reverse("price_new"), ONE)
    assert page.status_code == 422
    assert page.context["form"].errors["name"] == ["There is already one of that name here. Give it another name."]
    Price.objects.create(site=cast.alderton, name="Two sessions", amount=Decimal(1))
    assert change(manager, price, name="Two sessions").status_code == 302


def test_out_of_use_and_what_is_missing(cast: Cast, manager: Client, price: Price) -> None:
    page = next(page for page in registered() if page.code == "prices")
    assert list(page.missing(cast.fernbrook)) == []
    assert change(manager, price, active="").status_code == 302
    price.refresh_from_db()
    assert (price.active, price.version) == (False, 2)
    assert [str(one) for one in page.missing(cast.fernbrook)] == [
        "No price yet. Until then every plan's fee is typed by hand."
    ]
    assert "out of use" in manager.get(reverse("setup_prices")).content.decode()


def test_a_stale_form_shows_both_versions(manager: Client, price: Price) -> None:
    change(manager, price, amount="400")
    with nothing_written():
        page = change(manager, price, amount="420")
    assert page.status_code == 409
    assert page.context["theirs"] == [("Amount in GBP", "400.00", "420")]
    seen = int(page.context["form"]["seen_version"].value())
    assert change(manager, price, seen_version=seen, amount="420").status_code == 302
    price.refresh_from_db()
    assert (price.amount, price.version) == (Decimal(420), 3)

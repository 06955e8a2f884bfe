"""Set-up of the products: a strength is worked out from a label with its basis, and never assumed."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Role
from clinic.accounts.rights import NotAllowed
from clinic.accounts.setup_pages import registered
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import Cast, actor_of, hire, sign_in
from tests.support import nothing_written
from whitening.cases.actions import setting_up
from whitening.cases.labels import LabelRefused, ProductDetails
from whitening.cases.models import Product

# A gel that stands as used, as the browser sends it.
READY = {
    "name": "Whitening gel B, 16 % carbamide peroxide",
    "kind": "gel",
    "peroxide": "carbamide",
    "label_percent": "16",
    "label_basis": "as_used",
    "cycle_minutes_most": "20",
    "cycles_most": "4",
    "active": "on",
}
# A gel that is mixed one to one by mass.
MIXED = READY | {
    "name": "Whitening gel E",
    "peroxide": "hydrogen",
    "label_percent": "12",
    "label_basis": "before_mixing",
    "needs_mixing": "on",
    "mix_parts": "1",
    "mix_other_parts": "1",
    "mix_life_minutes": "20",
}


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


def add(client: Client, **typed: str) -> Answer:
    return client.post(reverse("product_new"), READY | typed)


def change(client: Client, product: Product, seen_version: int = 1, **typed: str) -> Answer:
    address = reverse("product", kwargs={"pk": product.pk})
    return client.post(address, READY | {"seen_version": str(seen_version)} | typed)


def details(**changed: object) -> ProductDetails:
    fields: dict[str, object] = {"kind": "gel", "peroxide": "hydrogen", "label_percent": Decimal(6)}
    limits: dict[str, object] = {"label_basis": "as_used", "cycle_minutes_most": 15, "cycles_most": 6}
    return ProductDetails(**{"name": "Whitening gel A", **fields, **limits, **changed})  # type: ignore[arg-type]


def test_it_works(cast: Cast, manager: Client) -> None:
    assert add(manager).headers["Location"] == reverse("setup_products")
    product = Product.objects.get()
    # 16 × 34.014 ÷ 94.070, abridged atomic weights of IUPAC (from memory): 5.7853.
    assert (product.hp_percent_as_used, product.label_basis, product.version) == (Decimal("5.79"), "as_used", 1)
    entry = TrailEntry.objects.latest("pk")
    assert (entry.verb, entry.subject_id, entry.site_id) == (
        "cases.product_changed",
        str(product.pk),
        cast.fernbrook.pk,
    )
    page = manager.get(reverse("setup_products")).content.decode()
    assert "1 product is set up" in page
    assert "5.79 % hydrogen peroxide as used" in page


def test_wrong_role(cast: Cast) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert add(client).status_code == 403
        assert client.get(reverse("setup_products")).status_code == 403
    with nothing_written(), pytest.raises(NotAllowed):
        setting_up.add_product(
            details=details(), at=cast.fernbrook, user=cast.clinician, actor=actor_of(cast.clinician)
        )


def test_other_site(cast: Cast, manager: Client) -> None:
    """Products are the practice's: a manager of any site sets them up, somebody who manages elsewhere not here."""
    with nothing_written(), pytest.raises(NotAllowed):
        setting_up.add_product(details=details(), at=cast.alderton, user=cast.manager, actor=actor_of(cast.manager))
    stranger = sign_in(hire(cast.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org"))
    assert add(stranger).status_code == 302
    assert "Whitening gel B" in manager.get(reverse("setup_products")).content.decode()


def test_wrong_method(manager: Client) -> None:
    assert manager.put(reverse("product_new")).status_code == 405
    assert manager.get(reverse("product_strength")).status_code == 405


def test_a_mix_by_mass(manager: Client) -> None:
    assert manager.post(reverse("product_new"), MIXED).status_code == 302
    product = Product.objects.get()
    assert (product.hp_percent_as_used, product.mix_parts, product.mix_life_minutes) == (Decimal(6), Decimal(1), 20)
    page = manager.get(reverse("product", kwargs={"pk": product.pk})).content.decode()
    assert "12 % × 1.00 ÷ (1.00 + 1.00) parts by mass = 6 % as used" in page


def test_a_mix_by_volume(manager: Client) -> None:
    typed = MIXED | {"mix_density_g_ml": "1.2", "mix_other_density_g_ml": "1.0"}
    assert manager.post(reverse("product_new"), typed).status_code == 302
    # 12 × 1.2 ÷ 2.2 = 6.5454…, worked by hand.
    assert Product.objects.get().hp_percent_as_used == Decimal("6.55")


def test_without_peroxide(manager: Client) -> None:
    typed = {"name": "Gum barrier C", "kind": "barrier", "peroxide": "none", "active": "on"}
    assert manager.post(reverse("product_new"), typed).status_code == 302
    product = Product.objects.get()
    assert (product.label_percent, product.label_basis, product.hp_percent_as_used) == (None, "none", None)
    page = manager.get(reverse("product", kwargs={"pk": product.pk}))
    assert page.status_code == 200


BAD = [
    ({"label_basis": ""}, "label_basis", "it is not assumed here"),
    ({"label_percent": ""}, "label_percent", "Copy the % from the label."),
    ({"label_percent": "0"}, "label_percent", "That comes to 0.00 % hydrogen peroxide as used."),
    ({"label_percent": "60", "peroxide": "hydrogen"}, "label_percent", "at most 50 %"),
    ({"label_percent": "101"}, "label_percent", ""),
    ({"label_percent": "six"}, "label_percent", ""),
    ({"label_percent": "NaN"}, "label_percent", ""),
    ({"peroxide": ""}, "peroxide", "This field is required."),
    ({"peroxide": "none", "label_percent": ""}, "peroxide", "A whitening gel works by a peroxide."),
    ({"peroxide": "none"}, "peroxide", "There is a % but no peroxide."),
    ({"kind": ""}, "kind", "This field is required."),
    ({"name": ""}, "name", "This field is required."),
    ({"name": "x" * 121}, "name", ""),
    ({"name": "gel\x00"}, "name", ""),
    ({"label_basis": "before_mixing"}, "needs_mixing", "Tick it, or clear"),
    ({"label_basis": "before_mixing", "needs_mixing": "on"}, "mix_parts", "it is not assumed here"),
    ({"mix_parts": "1"}, "needs_mixing", "Tick it, or clear"),
    ({"needs_mixing": "on", "mix_parts": "1", "mix_life_minutes": "20"}, "mix_parts", "how many parts of each"),
    ({"needs_mixing": "on", "mix_parts": "0", "mix_other_parts": "1"}, "mix_parts", ""),
    (
        {"needs_mixing": "on", "mix_parts": "1", "mix_other_parts": "1", "mix_density_g_ml": "1.2"},
        "mix_density_g_ml",
        "density of both parts",
    ),
    ({"needs_mixing": "on"}, "mix_life_minutes", "A mix is thrown away"),
    ({"mix_life_minutes": "20"}, "needs_mixing", "Tick it, or clear"),
    ({"cycle_minutes_most": ""}, "cycle_minutes_most", "name it for every gel"),
    ({"cycles_most": ""}, "cycles_most", "name it for every gel"),
    ({"cycles_most": "7"}, "cycles_most", ""),
]


@pytest.mark.parametrize(("typed", "field", "sentence"), BAD)
def test_bad_input(manager: Client, typed: dict[str, str], field: str, sentence: str) -> None:
    with nothing_written():
        page = add(manager, **typed)
    assert page.status_code == 422
    form = page.context["form"]
    assert sentence in str(form.errors[field])
    for name, value in typed.items():
        assert form[name].value() in {value, value == "on"}


def test_everything_that_is_missing_is_said_at_once(manager: Client) -> None:
    with nothing_written():
        page = add(manager, label_basis="", cycle_minutes_most="", cycles_most="", needs_mixing="on")
    assert set(page.context["form"].errors) == {
        "label_basis",
        "cycle_minutes_most",
        "cycles_most",
        "mix_life_minutes",
    }


@pytest.mark.parametrize(
    "changed",
    [
        {"label_basis": ""},
        {"label_basis": "none"},
        {"label_percent": None},
        {"label_basis": "before_mixing", "needs_mixing": True},
        {"cycles_most": None},
        {"peroxide": "none", "label_percent": None},
    ],
)
def test_the_action_assumes_nothing_either(cast: Cast, changed: dict[str, object]) -> None:
    who = {"user": cast.manager, "actor": actor_of(cast.manager)}
    with nothing_written(), pytest.raises(LabelRefused):
        setting_up.add_product(details=details(**changed), at=cast.fernbrook, **who)  # type: ignore[arg-type]


def test_a_name_in_use(manager: Client) -> None:
    add(manager)
    other = add(manager, name="Another")
    assert other.status_code == 302
    with nothing_written():
        page = add(manager)
        again = change(manager, Product.objects.get(name="Another"))
    for answer in (page, again):
        assert answer.status_code == 422
        assert answer.context["form"].errors["name"] == [
            "There is already one of that name here. Give it another name."
        ]


def test_a_change_is_the_next_version(manager: Client) -> None:
    add(manager)
    product = Product.objects.get()
    assert change(manager, product, label_percent="10", active="").status_code == 302
    product.refresh_from_db()
    assert (product.hp_percent_as_used, product.active, product.version) == (Decimal("3.62"), False, 2)
    assert TrailEntry.objects.latest("pk").fields == "active hp_percent_as_used label_percent"
    # The same once more changes nothing, so nothing is written.
    with nothing_written():
        assert change(manager, product, seen_version=2, label_percent="10", active="").status_code == 302
    assert "out of use" in manager.get(reverse("setup_products")).content.decode()


def test_a_stale_form_shows_both_versions(manager: Client) -> None:
    add(manager)
    product = Product.objects.get()
    change(manager, product, label_percent="10", light_allowed="on")
    with nothing_written():
        page = change(manager, product, label_percent="12", instructions_revision="revision 4")
    assert page.status_code == 409
    assert page.context["theirs"] == [
        ("% on the label", "10.00", "12"),
        ("The maker allows a light", "yes", "no"),
        ("Maker's instructions, revision", "–", "revision 4"),
    ]
    assert "Somebody else changed this" in page.content.decode()
    seen = int(page.context["form"]["seen_version"].value())
    assert change(manager, product, seen_version=seen, label_percent="12").status_code == 302
    product.refresh_from_db()
    assert (product.label_percent, product.version) == (Decimal(12), 3)


@pytest.mark.parametrize("seen", ["", "x", "-1", "99"])
def test_a_version_that_was_never_seen(manager: Client, seen: str) -> None:
    add(manager)
    address = reverse("product", kwargs={"pk": Product.objects.get().pk})
    with nothing_written():
        assert manager.post(address, READY | {"seen_version": seen, "cycles_most": "5"}).status_code in {409, 422}


def test_no_such_product(manager: Client) -> None:
    assert manager.get(reverse("product", kwargs={"pk": 999_999})).status_code == 404


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Hydrogen peroxide as used: 5.79 %"),
        ({}, "16 % carbamide peroxide × 34.014 ÷ 94.070 (molar masses) = 5.79 % hydrogen peroxide"),
        ({"name": "", "cycles_most": ""}, "Hydrogen peroxide as used: 5.79 %"),
        ({"label_basis": ""}, "A % is no strength until it is known of what."),
        ({"label_basis": "", "name": ""}, "A % is no strength until it is known of what."),
        ({"peroxide": ""}, "Choose what it is and which peroxide it holds"),
        ({"kind": "barrier", "peroxide": "none", "label_percent": ""}, "no strength to work out"),
    ],
)
def test_the_strength_while_it_is_typed(manager: Client, typed: dict[str, str], sentence: str) -> None:
    with nothing_written():
        answer = manager.post(reverse("product_strength"), READY | typed)
    assert answer.status_code == 200
    assert sentence in answer.content.decode()


def missing(cast: Cast, *codes: str) -> list[str]:
    return [str(sentence) for page in registered() if page.code in codes for sentence in page.missing(cast.fernbrook)]


def test_what_is_missing(cast: Cast, manager: Client) -> None:
    assert missing(cast, "products") == ["No whitening gel yet. Until then no case gets a plan."]
    page = manager.get(reverse("setup")).content.decode()
    assert reverse("setup_products") in page
    assert "No whitening gel yet." in page
    add(manager)
    assert missing(cast, "products") == []
    Product.objects.update(active=False)
    assert missing(cast, "products") != []

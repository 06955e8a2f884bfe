"""What a manager sets up for cases: the products of the practice, and what whitening costs at each site."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal

from django.db import IntegrityError, transaction

from clinic.accounts.models import Site, User
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, require
from clinic.diary.refusals import NameInUse
from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.cases.labels import ProductDetails, open_limits, strength_of
from whitening.cases.models import Basis, Peroxide, Price, Product


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceDetails:
    """amount is in the site's currency."""

    name: str
    sessions: int
    amount: Decimal
    active: bool = True


def add_product(*, details: ProductDetails, at: Site, user: User, actor: Actor) -> Product:
    """Products belong to the whole practice; `at` is the site where the person manages materials.

    Raises a LabelRefused where a strength would have to be guessed or a limit is missing, and NameInUse.
    """
    require(user, Capability.MATERIALS_MANAGE, at)
    values = _checked(details)
    try:
        with transaction.atomic():
            product = Product.objects.create(**values)
            _record("cases.product_changed", ("product", product.pk), at, actor, values)
    except IntegrityError as error:
        if not Product.objects.filter(name=details.name).exists():
            raise
        raise NameInUse from error
    return product


def change_product(
    *, product: Product, details: ProductDetails, seen_version: int, at: Site, user: User, actor: Actor
) -> Product:
    """Plans made before keep the strength they were made with. Raises ChangedMeanwhile, LabelRefused or NameInUse."""
    require(user, Capability.MATERIALS_MANAGE, at)
    values = _checked(details)
    try:
        with transaction.atomic():
            held = Product.objects.select_for_update().get(pk=product.pk)
            if changes := _write(held, values, seen_version):
                _record("cases.product_changed", ("product", held.pk), at, actor, changes)
    except IntegrityError as error:
        if not Product.objects.filter(name=details.name).exclude(pk=product.pk).exists():
            raise
        raise NameInUse from error
    return held


def add_price(*, site: Site, details: PriceDetails, user: User, actor: Actor) -> Price:
    """Raises NameInUse."""
    require(user, Capability.MATERIALS_MANAGE, site)
    values = asdict(details)
    try:
        with transaction.atomic():
            price = Price.objects.create(site=site, **values)
            _record("cases.price_changed", ("price", price.pk), site, actor, values)
    except IntegrityError as error:
        if not site.prices.filter(name=details.name).exists():
            raise
        raise NameInUse from error
    return price


def change_price(*, price: Price, details: PriceDetails, seen_version: int, user: User, actor: Actor) -> Price:
    """Fees that stand in a plan or a quote stay as they are. Raises ChangedMeanwhile or NameInUse."""
    require(user, Capability.MATERIALS_MANAGE, price.site)
    try:
        with transaction.atomic():
            held = Price.objects.select_for_update(of=("self",)).select_related("site").get(pk=price.pk)
            if changes := _write(held, asdict(details), seen_version):
                _record("cases.price_changed", ("price", held.pk), held.site, actor, changes)
    except IntegrityError as error:
        if not price.site.prices.filter(name=details.name).exclude(pk=price.pk).exists():
            raise
        raise NameInUse from error
    return held


def product_details(product: Product) -> ProductDetails:
    return ProductDetails(**{name: getattr(product, name) for name in ProductDetails.__dataclass_fields__})


def price_details(price: Price) -> PriceDetails:
    return PriceDetails(**{name: getattr(price, name) for name in PriceDetails.__dataclass_fields__})


def _checked(details: ProductDetails) -> dict[str, object]:
    """The row's values, with the strength as used that was worked out from them."""
    strength = strength_of(details)
    for refusal in open_limits(details):
        raise refusal
    basis = Basis.NONE if details.peroxide == Peroxide.NONE else details.label_basis
    worked_out = strength.hp_percent if strength else None
    return asdict(details) | {"label_basis": str(basis), "hp_percent_as_used": worked_out}


def _write(held: Product | Price, values: Mapping[str, object], seen_version: int) -> dict[str, object]:
    """Saves what differs as the next version, and gives it. Raises ChangedMeanwhile."""
    if held.version != seen_version:
        raise ChangedMeanwhile
    changes: dict[str, object] = {}
    for name, value in values.items():
        if getattr(held, name) != value:
            changes[name] = {"from": getattr(held, name), "to": value}
            setattr(held, name, value)
    if changes:
        held.version += 1
        held.save()
    return changes


def _record(verb: str, subject: tuple[str, int], site: Site, actor: Actor, values: Mapping[str, object]) -> None:
    record(verb=verb, actor=actor, subject=subject, patient_id=None, site_id=site.pk, values=values)

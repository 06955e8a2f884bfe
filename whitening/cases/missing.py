"""What a site still lacks of products and prices, in sentences for the Set-up list."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.accounts.setup_pages import SetupPage
from whitening.cases.models import Price, Product, ProductKind

Sentence = str | Promise


def of_products(_site: Site) -> list[Sentence]:
    """Products are the whole practice's, so every site lacks the same."""
    if Product.objects.filter(kind=ProductKind.GEL, active=True).exists():
        return []
    return [_("No whitening gel yet. Until then no case gets a plan.")]


def of_prices(site: Site) -> list[Sentence]:
    if Price.objects.filter(site=site, active=True).exists():
        return []
    return [_("No price yet. Until then every plan's fee is typed by hand.")]


PAGES = (
    SetupPage(
        code="products",
        title=_("Products, with their strength as used"),
        url_name="setup_products",
        missing=of_products,
        position=50,
    ),
    SetupPage(code="prices", title=_("Prices"), url_name="setup_prices", missing=of_prices, position=80),
)

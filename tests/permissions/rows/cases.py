from decimal import Decimal

from tests.cast import Cast
from tests.permissions.row import MANAGERS, form, page, press
from tests.whitening.chairside import chairs
from whitening.cases.models import Price


def a_product(_cast: Cast) -> dict[str, object]:
    return {"pk": chairs.a_gel().pk}


def a_price(cast: Cast) -> dict[str, object]:
    values = {"amount": Decimal("390.00")}
    return {"pk": Price.objects.get_or_create(site=cast.fernbrook, name="One session", defaults=values)[0].pk}


# Products belong to the whole practice, so no site's staff gets 404 for one.
ROWS = [
    page("setup_products", MANAGERS, of_a_site=False),
    form("product_new", MANAGERS, of_a_site=False),
    press("product_strength", MANAGERS, of_a_site=False),
    form("product", MANAGERS, args=a_product, of_a_site=False, by_its_own_site=False),
    page("setup_prices", MANAGERS, of_a_site=False),
    form("price_new", MANAGERS, of_a_site=False),
    form("price", MANAGERS, args=a_price),
]

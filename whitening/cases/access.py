"""The doors to a case, a price and a product: each gives the row, or 404 without saying whether it exists elsewhere."""

from operator import attrgetter
from typing import Any

from django.http import Http404

from clinic.accounts.access import one_of
from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from whitening.cases.models import Case, Plan, Price, Product


def access_case(*, user: User, pk: int, to: Capability) -> Case:
    return one_of(Case.objects.visible_to(user).select_related("site", "patient"), user=user, pk=pk, to=to)


def access_price(*, user: User, pk: int, to: Capability) -> Price:
    return one_of(Price.objects.visible_to(user).select_related("site"), user=user, pk=pk, to=to)


def access_product(*, user: User, site: Site, pk: int, to: Capability) -> Product:
    """Products belong to the whole practice: the role at the site on the screen decides."""
    require(user, to, site)
    product = Product.objects.filter(pk=pk).first()
    if product is None:
        raise Http404
    return product


def rows_in_memory(case: Case, relation: str) -> bool:
    """Whether the case was read together with these rows; pages of many cases do, so that queries do not grow."""
    return relation in getattr(case, "_prefetched_objects_cache", {})


def newest(case: Case, relation: str, *order: str, related: tuple[str, ...] = ()) -> Any:
    """The last row of a relation of the case, by these fields; None where there is none."""
    rows = getattr(case, relation)
    if rows_in_memory(case, relation):
        return max(rows.all(), key=attrgetter(*order), default=None)
    return rows.select_related(*related).order_by(*order).last()


def plan_in_force(case: Case) -> Plan | None:
    """The newest version; older ones stay as the history of what was planned."""
    plan: Plan | None = newest(case, "plans", "version", related=("product", "planned_by", "prescribed_by"))
    return plan

"""The one door to a case: gives the row, or 404 without saying whether it exists elsewhere."""

from operator import attrgetter
from typing import Any

from django.http import Http404

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from whitening.cases.models import Case, Plan


def access_case(*, user: User, pk: int, to: Capability) -> Case:
    """to: what the person must be allowed at the case's own site, where they may have another role than here."""
    case = Case.objects.visible_to(user).select_related("site", "patient").filter(pk=pk).first()
    if case is None:
        raise Http404
    require(user, to, case.site)
    return case


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

"""The one door to a case: gives the row, or 404 without saying whether it exists elsewhere."""

from django.http import Http404

from clinic.accounts.models import User
from whitening.cases.models import Case, Plan


def access_case(*, user: User, pk: int) -> Case:
    case = Case.objects.visible_to(user).select_related("site", "patient").filter(pk=pk).first()
    if case is None:
        raise Http404
    return case


def plan_in_force(case: Case) -> Plan | None:
    """The newest version; older ones stay as the history of what was planned."""
    return case.plans.select_related("product", "planned_by", "prescribed_by").order_by("-version").first()

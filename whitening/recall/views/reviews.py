"""The month review, recorded by a clinician."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.cases.models import Case
from whitening.recall import actions
from whitening.recall.forms import ReviewForm


@staff(Capability.REVIEW_RECORD, methods=("GET", "POST"))
def review(request: StaffRequest, pk: int) -> HttpResponse:
    """Where nothing can be reviewed (any more, or yet), the page says so before anything is typed."""
    case, at = access_case(user=request.user, pk=pk, to=Capability.REVIEW_RECORD), now()
    form = ReviewForm(request.POST if request.method == "POST" else None)
    try:
        actions.reviewable(case, now=at)
        if request.method != "POST" or not form.is_valid():
            return _page(request, case, form, status=422 if form.is_bound else 200)
        actions.record_review(case=case, details=form.details(), user=request.user, actor=request.actor, now=at)
    except Refusal as refusal:
        return _page(request, case, form, error=str(refusal), status=409)
    messages.success(request, _("The review is recorded and the case is closed."))
    return redirect("case", pk=pk)


def _page(request: StaffRequest, case: Case, form: ReviewForm, *, status: int, error: str = "") -> HttpResponse:
    readings = case.shades.standing().order_by("read_at", "pk")
    context = {"case": case, "form": form, "error": error, "readings": readings}
    return render(request, "recall/review.html", context, status=status)

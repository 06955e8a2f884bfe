"""Set-up of the kinds of visit: what each is made of, and what patients may pick alone."""

from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.access import access_visit_type
from clinic.diary.actions import setting_up, visit_types
from clinic.diary.local_rules import rulings
from clinic.diary.models import VisitType
from clinic.diary.segments import segments_of
from clinic.diary.standard import SegmentPlan
from clinic.diary.timeline import timeline
from clinic.diary.usual import Worked, known, worked_out
from clinic.diary.visit_forms import PatientsAloneForm, Segments, segment_forms
from clinic.trail.refusals import Refusal


@staff(Capability.SETUP, methods=("GET", "POST"))
def visits(request: StaffRequest) -> HttpResponse:
    """Lists the visits; the button adds those that every practice starts with."""
    if request.method == "POST":
        made = setting_up.add_standard_visits(site=request.site, actor=request.actor)
        messages.success(request, _("Added %(count)d visits.") % {"count": len(made)})
        return redirect("setup_visits")
    rows = VisitType.objects.filter(site=request.site).prefetch_related("segments")
    return render(request, "diary/setup/visits.html", {"visits": rows})


@staff(Capability.SETUP, methods=("GET", "POST"))
def visit(request: StaffRequest, pk: int) -> HttpResponse:
    """What it is made of. "Look at it first" draws what was typed and keeps nothing."""
    visit_type = access_visit_type(user=request.user, pk=pk, to=Capability.SETUP)
    if request.method == "GET":
        return _page(request, visit_type)
    typed = segment_forms(visit_type, request.POST)
    if not typed.is_valid():
        return _page(request, visit_type, typed, status=422)
    plans = typed.plans()
    try:
        if "look" in request.POST:
            visit_types.check_segments(visit_type, plans)
            return _page(request, visit_type, typed, plans)
        visit_types.set_segments(
            visit_type=visit_type,
            segments=plans,
            version=_version(request),
            user=request.user,
            actor=request.actor,
        )
    except Refusal as refusal:
        return _page(request, visit_type, typed, plans, error=str(refusal), status=409)
    messages.success(request, _("Saved. Visits that are booked already keep their length."))
    return redirect("setup_visit", pk=pk)


@staff(Capability.SETUP, methods=("POST",))
def patients_alone(request: StaffRequest, pk: int) -> HttpResponse:
    """Whether a patient may pick a time of this visit alone, and between when and when."""
    visit_type = access_visit_type(user=request.user, pk=pk, to=Capability.SETUP)
    form = PatientsAloneForm(request.POST)
    if not form.is_valid():
        return _page(request, visit_type, alone=form, status=422)
    try:
        visit_types.let_patients_book(
            visit_type=visit_type,
            rules=form.rules(),
            version=_version(request),
            user=request.user,
            actor=request.actor,
        )
    except Refusal as refusal:
        return _page(request, visit_type, alone=form, error=str(refusal), status=409)
    messages.success(request, _("Saved. What patients have booked already stays as it is."))
    return redirect("setup_visit", pk=pk)


def _version(request: StaffRequest) -> int:
    """The one that was on the page; none that ever was, where the field is missing."""
    try:
        return int(request.POST.get("version", ""))
    except ValueError:
        return 0


def _page(
    request: StaffRequest,
    visit_type: VisitType,
    typed: Segments | None = None,
    plans: Sequence[SegmentPlan] | None = None,
    *,
    alone: PatientsAloneForm | None = None,
    error: str = "",
    status: int = 200,
) -> HttpResponse:
    """plans: what was typed, where it can be drawn; otherwise what is kept is drawn."""
    shown = segments_of(visit_type) if plans is None else plans
    context = {
        "visit": visit_type,
        "segments": segment_forms(visit_type) if typed is None else typed,
        "alone": PatientsAloneForm.of(visit_type) if alone is None else alone,
        "timeline": timeline(shown),
        "is_typed": plans is not None,
        "lengths": _lengths(visit_type, shown),
        "rulings": [one for one in rulings(visit_type.site, visit_type.code, shown) if str(one.sentence) not in error],
        "error": error,
        # What the page goes back to the server with; a refused page keeps the version it came with.
        "version": request.POST.get("version", visit_type.version) if typed or alone else visit_type.version,
    }
    return render(request, "diary/setup/visit.html", context, status=status)


def _lengths(visit_type: VisitType, segments: Sequence[SegmentPlan]) -> list[Worked]:
    """What finished visits say, of everybody here; nothing where no segment learns."""
    learns = any(one.measured_as for one in segments)
    return worked_out(segments, known(visit_type, segments, person=None), person=None) if learns else []

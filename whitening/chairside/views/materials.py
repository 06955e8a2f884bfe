"""Materials: what is here, what is on hold, whom a batch was used for."""

from django.contrib import messages
from django.db.models import Prefetch, Q, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.diary.models import Resource, ResourceKind
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.models import Product
from whitening.chairside.access import access_batch
from whitening.chairside.actions import hold_batch, receive_batch, release_batch, waste
from whitening.chairside.forms import BatchForm, WasteForm, WhyForm
from whitening.chairside.models import Batch, BatchHold

# A batch that expires this soon is worth a look. Product promise; the number is common practice, no source.
SOON_DAYS = 60


@staff(Capability.MATERIALS_READ)
def materials(request: StaffRequest) -> HttpResponse:
    batches = _with_numbers(Batch.objects.filter(site=request.site))
    products = Product.objects.filter(active=True).prefetch_related(Prefetch("batches", batches, to_attr="here"))
    lights = Resource.objects.filter(site=request.site, kind=ResourceKind.LIGHT).select_related("light_unit")
    today = now().astimezone(request.site.zone).date()
    context = {"products": products, "lights": lights, "today": today, "soon_days": SOON_DAYS}
    context["may_manage"] = may(request.user, Capability.MATERIALS_MANAGE, request.site)
    return render(request, "chairside/materials.html", context)


def _with_numbers(batches: QuerySet[Batch]) -> QuerySet[Batch]:
    """Each with what was used and wasted, and with its hold if it is on one."""
    holds = BatchHold.objects.filter(released_at=None).select_related("held_by")
    return batches.annotate(
        used=Coalesce(Sum("uses__quantity", filter=Q(uses__kind="used")), 0),
        wasted=Coalesce(Sum("uses__quantity", filter=Q(uses__kind="wasted")), 0),
    ).prefetch_related(Prefetch("holds", holds, to_attr="current_holds"))


@staff(Capability.MATERIALS_USE, methods=("GET", "POST"))
def batch_new(request: StaffRequest) -> HttpResponse:
    today = now().astimezone(request.site.zone).date()
    form = BatchForm(request.POST or None, today=today)
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            row = receive_batch(
                site=request.site, received=form.received(), user=request.user, actor=request.actor, now=now()
            )
        except Refusal as refusal:
            form.add_error("number", str(refusal))
            status = 409
        else:
            messages.success(request, _("The batch is received."))
            return redirect("batch", pk=row.pk)
    elif request.method == "POST":
        status = 422
    return render(request, "chairside/batch_new.html", {"form": form}, status=status)


@staff(Capability.MATERIALS_READ)
def batch(request: StaffRequest, pk: int) -> HttpResponse:
    return _batch(request, access_batch(user=request.user, pk=pk, to=Capability.MATERIALS_READ))


@staff(Capability.BATCH_HOLD, methods=("POST",))
def hold(request: StaffRequest, pk: int) -> HttpResponse:
    row, form = access_batch(user=request.user, pk=pk, to=Capability.BATCH_HOLD), WhyForm(request.POST)
    if not form.is_valid():
        return _batch(request, row, why=form, status=422)
    try:
        hold_batch(batch=row, why=form.cleaned_data["why"], user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _batch(request, row, why=form, status=409)
    messages.success(request, _("The batch is on hold at every chair."))
    return redirect("batch", pk=pk)


@staff(Capability.MATERIALS_MANAGE, methods=("POST",))
def release(request: StaffRequest, pk: int) -> HttpResponse:
    row, form = access_batch(user=request.user, pk=pk, to=Capability.MATERIALS_MANAGE), WhyForm(request.POST)
    if not form.is_valid():
        return _batch(request, row, why=form, status=422)
    try:
        release_batch(batch=row, because=form.cleaned_data["why"], user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _batch(request, row, why=form, status=409)
    messages.success(request, _("The batch may be used again."))
    return redirect("batch", pk=pk)


@staff(Capability.MATERIALS_USE, methods=("POST",))
def waste_some(request: StaffRequest, pk: int) -> HttpResponse:
    row, form = access_batch(user=request.user, pk=pk, to=Capability.MATERIALS_USE), WasteForm(request.POST)
    if not form.is_valid():
        return _batch(request, row, waste_form=form, status=422)
    waste(batch=row, quantity=form.cleaned_data["quantity"], user=request.user, actor=request.actor, now=now())
    messages.success(request, _("Written off."))
    return redirect("batch", pk=pk)


def _batch(
    request: StaffRequest,
    held: Batch,
    *,
    why: WhyForm | None = None,
    waste_form: WasteForm | None = None,
    status: int = 200,
) -> HttpResponse:
    row = _with_numbers(Batch.objects.filter(pk=held.pk)).select_related("product", "site").get()
    numbers = vars(row)
    uses = row.uses.exclude(session=None).select_related("session__case__patient").order_by("-used_at")
    context = {
        "batch": row,
        "left": row.quantity_received - numbers["used"] - numbers["wasted"],
        "holds": row.holds.select_related("held_by", "released_by"),
        "uses": uses,
        "why": why or WhyForm(),
        "waste_form": waste_form or WasteForm(),
        "may_release": may(request.user, Capability.MATERIALS_MANAGE, row.site),
        "may_hold": may(request.user, Capability.BATCH_HOLD, row.site),
        "may_see_people": may(request.user, Capability.PATIENTS_READ, row.site),
    }
    return render(request, "chairside/batch.html", context, status=status)

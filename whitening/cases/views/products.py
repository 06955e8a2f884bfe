"""Set-up of the products: the list, adding one, changing one, and the strength as it is being typed."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability
from clinic.diary.refusals import NameInUse
from whitening.cases.access import access_product
from whitening.cases.actions import setting_up
from whitening.cases.forms import ProductForm
from whitening.cases.labels import Label, LabelRefused, strength_of
from whitening.cases.models import Product
from whitening.cases.peroxide import Strength
from whitening.cases.views.versions import Difference, both

MANAGE = Capability.MATERIALS_MANAGE


@staff(MANAGE)
def products(request: StaffRequest) -> HttpResponse:
    return render(request, "cases/setup/products.html", {"products": Product.objects.all()})


@staff(MANAGE, methods=("POST",))
def strength(request: StaffRequest) -> HttpResponse:
    """Works out, writes nothing."""
    return render(request, "cases/setup/_strength.html", _shown(ProductForm(request.POST).strength()))


@staff(MANAGE, methods=("GET", "POST"))
def product_new(request: StaffRequest) -> HttpResponse:
    form = ProductForm(request.POST) if request.method == "POST" else ProductForm(initial={"active": True})
    if form.is_bound and form.is_valid():
        try:
            setting_up.add_product(details=form.details(), at=request.site, user=request.user, actor=request.actor)
        except NameInUse as refusal:
            form.add_error("name", str(refusal))
        else:
            messages.success(request, _("The product is added. Next, receive a batch of it under Materials."))
            return redirect("setup_products")
    return _page(request, form)


@staff(MANAGE, methods=("GET", "POST"))
def product(request: StaffRequest, pk: int) -> HttpResponse:
    held = access_product(user=request.user, site=request.site, pk=pk, to=MANAGE)
    if request.method != "POST":
        return _page(request, ProductForm.of(held), held)
    form, theirs = ProductForm(request.POST), None
    if form.is_valid():
        try:
            _save(request, held, form)
        except NameInUse as refusal:
            form.add_error("name", str(refusal))
        except ChangedMeanwhile as refusal:
            theirs = both(typed=form, saved=ProductForm.of(held), version=held.version)
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("The product is saved. Plans made before keep their strength."))
            return redirect("setup_products")
    return _page(request, form, held, theirs)


def _save(request: StaffRequest, held: Product, form: ProductForm) -> None:
    setting_up.change_product(
        product=held,
        details=form.details(),
        seen_version=form.cleaned_data["seen_version"] or 0,
        at=request.site,
        user=request.user,
        actor=request.actor,
    )


def _page(
    request: StaffRequest, form: ProductForm, held: Product | None = None, theirs: list[Difference] | None = None
) -> HttpResponse:
    worked_out = form.strength() if form.is_bound else _of(held)
    context = {"form": form, "product": held, "theirs": theirs} | _shown(worked_out)
    status = 409 if theirs is not None else 422 if form.is_bound else 200
    return render(request, "cases/setup/product.html", context, status=status)


def _shown(worked_out: Strength | str) -> dict[str, object]:
    """Either the strength with its working, or why there is none."""
    if isinstance(worked_out, Strength):
        return {"strength": worked_out, "why": ""}
    return {"strength": None, "why": worked_out}


def _of(held: Product | None) -> Strength | str:
    if held is None:
        return ""
    try:
        return strength_of(Label(**{name: getattr(held, name) for name in Label.__dataclass_fields__})) or ""
    except LabelRefused as refusal:
        return str(refusal)

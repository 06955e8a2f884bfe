"""Set-up of the prices of a site: the list, adding one, changing one or taking it out of use."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability
from clinic.diary.refusals import NameInUse
from whitening.cases.access import access_price
from whitening.cases.actions import setting_up
from whitening.cases.forms import PriceForm
from whitening.cases.models import Price
from whitening.cases.views.versions import Difference, both

MANAGE = Capability.MATERIALS_MANAGE


@staff(MANAGE)
def prices(request: StaffRequest) -> HttpResponse:
    rows = Price.objects.filter(site=request.site)
    return render(request, "cases/setup/prices.html", {"prices": rows, "currency": request.site.currency})


@staff(MANAGE, methods=("GET", "POST"))
def price_new(request: StaffRequest) -> HttpResponse:
    form = PriceForm(request.POST if request.method == "POST" else None, currency=request.site.currency)
    if form.is_valid():
        try:
            setting_up.add_price(site=request.site, details=form.details(), user=request.user, actor=request.actor)
        except NameInUse as refusal:
            form.add_error("name", str(refusal))
        else:
            messages.success(request, _("The price is added."))
            return redirect("setup_prices")
    return _page(request, form)


@staff(MANAGE, methods=("GET", "POST"))
def price(request: StaffRequest, pk: int) -> HttpResponse:
    held = access_price(user=request.user, pk=pk, to=MANAGE)
    if request.method != "POST":
        return _page(request, PriceForm.of(held), held)
    form, theirs = PriceForm(request.POST, currency=held.site.currency), None
    if form.is_valid():
        try:
            _save(request, held, form)
        except NameInUse as refusal:
            form.add_error("name", str(refusal))
        except ChangedMeanwhile as refusal:
            theirs = both(typed=form, saved=PriceForm.of(held), version=held.version)
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("The price is saved. Plans and quotes made before keep theirs."))
            return redirect("setup_prices")
    return _page(request, form, held, theirs)


def _save(request: StaffRequest, held: Price, form: PriceForm) -> None:
    setting_up.change_price(
        price=held,
        details=form.details(),
        seen_version=form.cleaned_data["seen_version"] or 0,
        user=request.user,
        actor=request.actor,
    )


def _page(
    request: StaffRequest, form: PriceForm, held: Price | None = None, theirs: list[Difference] | None = None
) -> HttpResponse:
    status = 409 if theirs is not None else 422 if form.is_bound else 200
    return render(request, "cases/setup/price.html", {"form": form, "price": held, "theirs": theirs}, status=status)

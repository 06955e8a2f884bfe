"""Set-up: the list of what is set and what is missing, and the sites."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts import setup_pages
from clinic.accounts.access import access_site
from clinic.accounts.actions import sites
from clinic.accounts.actions.rota import MayNotAnswer, NotOfThisSite
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.forms.sites import ChangeSiteForm, NewSiteForm
from clinic.accounts.models import Site, User
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability


@staff(Capability.SETUP)
def setup(request: StaffRequest) -> HttpResponse:
    pages = [(page, [str(sentence) for sentence in page.missing(request.site)]) for page in setup_pages.registered()]
    context = {
        "pages": pages,
        "missing": sum(len(sentences) for _page, sentences in pages),
        "sites": Site.objects.visible_to(request.user),
    }
    return render(request, "setup/list.html", context)


@staff(Capability.SETUP, methods=("GET", "POST"))
def site(request: StaffRequest, pk: int) -> HttpResponse:
    held = access_site(user=request.user, pk=pk, to=Capability.SETUP)
    theirs = None
    if request.method == "POST":
        form = ChangeSiteForm(request.POST, site=held)
        if form.is_valid():
            try:
                _save(request, held, form)
            except ChangedMeanwhile as refusal:
                form.add_error(None, str(refusal))
                theirs = differences(form, held)
                # The next press saves this version over the other, which is now on the page to be seen.
                form.data = request.POST.copy()
                form.data["seen_version"] = str(held.version)
            except (MayNotAnswer, NotOfThisSite) as refusal:
                form.add_error("on_call", str(refusal))
            else:
                messages.success(request, _("The site is saved."))
                return redirect("setup")
    else:
        form = ChangeSiteForm.of(held, sites.details_of(held))
    status = 409 if theirs is not None else 422 if form.is_bound else 200
    return render(request, "setup/site.html", {"form": form, "site": held, "theirs": theirs}, status=status)


@staff(Capability.SETUP, methods=("GET", "POST"))
def new_site(request: StaffRequest) -> HttpResponse:
    form = NewSiteForm(request.POST or None)
    if form.is_valid():
        sites.open_site(
            slug=form.cleaned_data["slug"],
            details=form.details(),
            at=request.site,
            user=request.user,
            actor=request.actor,
        )
        messages.success(request, _("The site is open. You are its manager; invite the others."))
        return redirect("setup")
    return render(request, "setup/site_new.html", {"form": form}, status=422 if form.is_bound else 200)


def differences(form: ChangeSiteForm, held: Site) -> list[tuple[str, str, str]]:
    """Label, what stands there now, what was typed: for each field in which the two versions differ."""
    saved = ChangeSiteForm.of(held, sites.details_of(held))
    rows = [(field, saved[field.name].value(), field.value()) for field in form if not field.is_hidden]
    return [
        (str(field.label), _shown(field.name, now, held), _shown(field.name, typed, held))
        for field, now, typed in rows
        if str(now or "") != str(typed or "")
    ]


def _shown(name: str, value: object, held: Site) -> str:
    if name == "on_call" and value:
        return str(User.objects.of_site(held).filter(pk=str(value)).first() or "")
    return str(value or "")


def _save(request: StaffRequest, held: Site, form: ChangeSiteForm) -> None:
    sites.change_site(
        site=held,
        details=form.details(),
        seen_version=form.cleaned_data["seen_version"],
        user=request.user,
        actor=request.actor,
    )

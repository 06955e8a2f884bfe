"""One's own account: the first page, the site one works at now, PIN, language."""

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts import own_pages, sessions
from clinic.accounts.actions import people, screen
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.forms.own import LanguageForm, PinForm
from clinic.accounts.models import Site
from clinic.accounts.pages import first_page
from clinic.accounts.rights import Capability, needs_second_factor

OWN = Capability.OWN_ACCOUNT


@staff(OWN)
def start(request: StaffRequest) -> HttpResponse:
    return redirect(first_page(request.user))


@staff(OWN)
def own_account(request: StaffRequest) -> HttpResponse:
    return _page(request, language_form=LanguageForm(initial={"language": request.user.language}))


@staff(OWN, methods=("POST",))
def switch_site(request: StaffRequest) -> HttpResponse:
    """The choice lasts for this sign-in. A site that the person is no member of does not exist for them."""
    chosen = request.POST.get("site", "")
    site = Site.objects.visible_to(request.user).filter(pk=int(chosen) if chosen.isdecimal() else 0).first()
    if site is None:
        raise Http404
    request.session[sessions.SITE] = site.pk
    messages.success(request, _("The pages now show %(site)s.") % {"site": site.name})
    return redirect(first_page(request.user))


@staff(OWN, methods=("GET", "POST"))
def pin(request: StaffRequest) -> HttpResponse:
    form = PinForm(request.POST if request.method == "POST" else None, user=request.user)
    if form.is_valid():
        screen.choose_pin(user=request.user, pin=form.cleaned_data["pin"])
        messages.success(request, _("The new PIN opens the screen lock from now on."))
        return redirect("own_account")
    return render(request, "accounts/pin.html", {"form": form}, status=422 if form.is_bound else 200)


@staff(OWN, methods=("POST",))
def language(request: StaffRequest) -> HttpResponse:
    form = LanguageForm(request.POST)
    if not form.is_valid():
        return _page(request, language_form=form)
    people.choose_language(user=request.user, language=form.cleaned_data["language"])
    response = redirect("own_account")
    # For the pages that come before the door.
    response.set_cookie(
        settings.LANGUAGE_COOKIE_NAME, form.cleaned_data["language"], secure=not settings.PLAIN_HTTP, samesite="Lax"
    )
    return response


def _page(request: StaffRequest, *, language_form: LanguageForm) -> HttpResponse:
    context = {
        "memberships": request.user.memberships.select_related("site").order_by("site__name", "role"),
        "language": language_form,
        "needs_factor": needs_second_factor(request.user),
        "pages": own_pages.registered(),
    }
    return render(request, "accounts/own.html", context, status=422 if language_form.is_bound else 200)

"""The style page: every part of a page at once, to look at and to test. It shows nothing of anybody."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation

from clinic.accounts.doors import public
from whitening.demo import specimen

LANGUAGES = ("en", "ar")
SHOWS_NOBODY = "shows specimens of the page's parts, in the demo only"


@public(reason=SHOWS_NOBODY)
def staff_page(request: HttpRequest) -> HttpResponse:
    messages.success(request, translation.gettext("The visit is booked. The confirmation has gone out by e-mail."))
    messages.error(request, translation.gettext("That time has just been taken. Here are the next ones."))
    messages.warning(request, translation.gettext("The light was checked 29 days ago. Check it before Thursday."))
    messages.info(request, translation.gettext("Someone else is writing in this case."))
    return _page(request, "demo/look.html")


@public(reason=SHOWS_NOBODY)
def patient_page(request: HttpRequest) -> HttpResponse:
    return _page(request, "demo/look_patient.html")


@public(reason=SHOWS_NOBODY)
def chairside_page(request: HttpRequest) -> HttpResponse:
    return _page(request, "demo/look_chairside.html")


def _page(request: HttpRequest, template: str) -> HttpResponse:
    asked = request.GET.get("language", "en")
    with translation.override(asked if asked in LANGUAGES else "en"):
        context = {
            "shell": specimen.SpecimenShell(request),
            "form": specimen.SpecimenForm(),
            "wrong_form": specimen.SpecimenForm(specimen.FILLED_WRONGLY, prefix=None, auto_id="wrong_%s"),
            "ladder": specimen.ladder(),
            "days": specimen.DAYS,
            "kinds": specimen.marks(),
            "table": specimen.BATCHES,
        }
        return render(request, template, context)

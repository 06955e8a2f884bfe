"""Who is it? The date of birth keeps out whoever got the message by mistake; the code is for what needs more."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from clinic.accounts.doors import go, nearest_page
from clinic.messages import own, pages, purposes, visits
from clinic.messages.actions.asking import ask_code
from clinic.messages.conditions import surviving
from clinic.messages.doors import ANY, PatientRequest, patient
from clinic.messages.forms import BirthDateForm, CodeForm
from clinic.messages.models import DueMessage, LinkVisit
from clinic.messages.sweep import hand_over_now
from clinic.trail.clock import now, real_now

UNFIT = 422


@patient(ANY, methods=("GET", "POST"), known_needed=False, write_only_ok=True)
def who(request: PatientRequest) -> HttpResponse:
    form = BirthDateForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            visits.check_birth_date(
                visit=request.visit, birth_on=form.cleaned_data["birth_on"], now=now(), real_now=real_now()
            )
        except visits.LinkDead:
            return pages.closed(request, link=request.link)
        except (visits.WrongBirthDate, visits.BirthDateChanged) as wrong:
            form.add_error("birth_on", str(wrong))
        else:
            return go(request, _onward(request))
    status = UNFIT if form.errors else 200
    return render(request, "messages/pages/who.html", {"form": form, "next": _next(request)}, status=status)


@patient(ANY, methods=("GET", "POST"))
def code(request: PatientRequest) -> HttpResponse:
    form, problem = CodeForm(request.POST if request.POST.get("step") == "check" else None), ""
    if request.POST.get("step") == "send":
        problem = _send_code(request)
    elif form.is_bound and form.is_valid():
        try:
            visits.check_code(visit=request.visit, code=form.cleaned_data["code"], real_now=real_now())
        except (visits.WrongCode, visits.CodeDead) as wrong:
            form.add_error("code", str(wrong))
        else:
            return go(request, _onward(request))
    request.visit.refresh_from_db()
    context = {
        "form": form,
        "next": _next(request),
        "to": _where_to(request),
        "sent": _last_code(request.visit),
        "site": request.site,
        "problem": problem,
    }
    return render(request, "messages/pages/code.html", context, status=UNFIT if form.errors or problem else 200)


def _send_code(request: PatientRequest) -> str:
    """What stands against it, in words; "" when the code was handed over."""
    try:
        message = ask_code(visit=request.visit, now=now(), real_now=real_now())
    except visits.TooManyCodes as many:
        return str(many)
    hand_over_now(message.pk, now=now())
    return ""


def _last_code(visit: LinkVisit) -> DueMessage | None:
    return DueMessage.objects.about((own.VISIT, visit.pk)).order_by("-version").first()


def _where_to(request: PatientRequest) -> str:
    """The channel's address, mostly hidden: enough for its owner to know it."""
    person = surviving(request.patient)
    if person.email and person.email_bounced_at is None and person.channel != "text":
        name, _at, domain = person.email.partition("@")
        return f"{name[:1]}…@{domain}"
    return f"…{person.phone.as_e164[-3:]}" if person.phone else ""


def _next(request: PatientRequest) -> str:
    asked = request.POST.get("next") or request.GET.get("next") or ""
    inside = asked.startswith("/p/") and url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return nearest_page(asked) if inside else ""


def _onward(request: PatientRequest) -> str:
    return _next(request) or reverse(purposes.get(request.link.purpose).landing)

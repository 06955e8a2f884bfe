"""What every private page has in common: its headers, and the page that is shown when it has closed."""

from typing import TypeVar

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import translation
from django.utils.crypto import constant_time_compare, salted_hmac

from clinic.accounts.languages import speaking
from clinic.accounts.models import Site
from clinic.messages.models import PrivateLink

R = TypeVar("R", bound=HttpResponseBase)
GONE = 410
SOMEBODY_ELSES = 409
WHOSE = "whose"  # the hidden field of every form on these pages


def private(response: R) -> R:
    """Nothing of it is stored, and no address of it is told to anybody."""
    response.headers["Cache-Control"] = "no-store"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    return response


def closed(request: HttpRequest, *, link: PrivateLink | None, token: str = "") -> HttpResponse:
    """The same page whether the link was ever known, has expired, was used up or was never ours."""
    language = link.patient.language if link is not None else translation.get_language()
    with speaking(language):
        context = {"sites": sites_of(link), "token": token, "may_ask": bool(token) or link is not None}
        return private(render(request, "messages/pages/closed.html", context, status=GONE))


def mark_of(link: PrivateLink) -> str:
    """The same for every link to the same page of the same person, so that a newer link spoils no open form."""
    about = f"{link.patient_id} {link.purpose} {link.subject_id}"
    return salted_hmac("clinic.messages.whose", about, algorithm="sha256").hexdigest()[:32]


def is_of_another(request: HttpRequest, link: PrivateLink) -> bool:
    """Two people share a browser: the form was drawn for one, and the other's link was opened since."""
    sent = request.POST.get(WHOSE)
    return sent is not None and not constant_time_compare(sent, mark_of(link))


def of_another(request: HttpRequest, *, link: PrivateLink) -> HttpResponse:
    with speaking(link.patient.language):
        context = {"sites": sites_of(link)}
        return private(render(request, "messages/pages/of_another.html", context, status=SOMEBODY_ELSES))


def sites_of(link: PrivateLink | None) -> list[Site]:
    """Whose numbers to show: those of the link's site, else of all."""
    return [link.site] if link is not None else list(Site.objects.select_related("practice"))

"""The address in a message: a page with one button. Mail scanners fetch such addresses, so a GET does nothing."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt

from clinic.accounts.doors import go, public
from clinic.accounts.languages import speaking
from clinic.messages import links, own, pages, purposes, visits
from clinic.messages.actions.asking import ask_new_link, end_messages
from clinic.messages.models import PrivateLink
from clinic.messages.sweep import hand_over_now
from clinic.trail.clock import now, real_now


@public(reason="a patient's private link: the secret in the address is the key", methods=("GET", "POST"))
def private_link(request: HttpRequest, token: str) -> HttpResponse:
    link = links.by_token(token)
    if link is None or not link.is_open(now()) or link.purpose == own.END_MESSAGES:
        return pages.closed(request, link=link, token=token)
    if request.method == "POST":
        _visit, secret = visits.begin(link=link, real_now=real_now())
        response = go(request, reverse(purposes.get(link.purpose).landing))
        visits.give_cookie(response, secret)
        return pages.private(response)
    with speaking(link.patient.language):
        context = {"site": link.site, "title": purposes.get(link.purpose).title}
        return pages.private(render(request, "messages/pages/open.html", context))


@public(reason="asks for a new link; answers the same whether the old one was known or not", methods=("POST",))
def new_link(request: HttpRequest, token: str = "") -> HttpResponse:
    link = links.by_token(token) if token else _visited_link(request)
    message = ask_new_link(link=link, now=now())
    if message is not None:
        hand_over_now(message.pk, now=now())
    language = link.patient.language if link is not None else translation.get_language()
    with speaking(language):
        return pages.private(render(request, "messages/pages/asked.html", {"sites": pages.sites_of(link)}))


@csrf_exempt
@public(
    reason="ends messages of one kind by one click (RFC 8058); the secret in the address is the key",
    methods=("GET", "POST"),
)
def private_end(request: HttpRequest, token: str) -> HttpResponse:
    link = links.by_token(token)
    if link is None or link.purpose != own.END_MESSAGES or not link.is_open(now()):
        return pages.closed(request, link=link)
    with speaking(link.patient.language):
        ended = request.method == "POST"
        if ended:
            end_messages(link=link, now=now())
            messages.success(request, _("You get no more messages of this kind."))
        context = {"site": link.site, "ended": ended}
        return pages.private(render(request, "messages/pages/end.html", context))


def _visited_link(request: HttpRequest) -> PrivateLink | None:
    visit = visits.current(request, real_now=real_now())
    return visit.link if visit is not None else None

"""Set-up: the rota of who is on call at a site."""

from datetime import datetime, time, timedelta

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.access import access_site, access_turn
from clinic.accounts.actions.rota import add_turn, remove_turn
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.forms.rota import TurnForm
from clinic.accounts.models import Site
from clinic.accounts.rights import Capability
from clinic.accounts.rota import FURTHEST_AHEAD, coming_turns, gaps, on_call
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

CHANGES_AT = time(8)


@staff(Capability.SETUP, methods=("GET", "POST"))
def rota(request: StaffRequest, pk: int) -> HttpResponse:
    site = access_site(user=request.user, pk=pk, to=Capability.SETUP)
    at = now()
    form = (
        TurnForm(request.POST, site=site, now=at)
        if request.method == "POST"
        else TurnForm(site=site, now=at, initial=_next(site, at))
    )
    if form.is_bound and form.is_valid():
        from_at, until_at = form.span()
        try:
            add_turn(
                site=site,
                person=form.cleaned_data["person"],
                from_at=from_at,
                until_at=until_at,
                user=request.user,
                actor=request.actor,
                now=at,
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("The turn is written down."))
            return redirect("rota", pk=site.pk)
    context = {
        "site": site,
        "form": form,
        "held": on_call(site, at=at),
        "turns": coming_turns(site, now=at),
        "gaps": gaps(site, now=at),
        "now": at,
        # Without a gateway a missing number is no matter.
        "texts_on": bool(settings.SMS_URL),
    }
    return render(request, "setup/rota.html", context, status=422 if form.is_bound else 200)


@staff(Capability.SETUP, methods=("POST",))
def rota_remove(request: StaffRequest, pk: int) -> HttpResponse:
    turn = access_turn(user=request.user, pk=pk, to=Capability.SETUP)
    remove_turn(turn=turn, user=request.user, actor=request.actor)
    messages.success(request, _("The turn is taken out. See whether somebody stands in for it."))
    return redirect("rota", pk=turn.site_id)


def _next(site: Site, at: datetime) -> dict[str, object]:
    """Where the last turn ends, or today; for a week, which is what most practices take."""
    turns = [turn for turn in coming_turns(site, now=at) if turn.until_at <= at + FURTHEST_AHEAD]
    start = turns[-1].until_at.astimezone(site.zone) if turns else None
    from_on = start.date() if start else at.astimezone(site.zone).date()
    return {
        "from_day": from_on,
        "from_time": start.time() if start else CHANGES_AT,
        "until_day": from_on + timedelta(days=7),
        "until_time": start.time() if start else CHANGES_AT,
    }

"""Message preferences: each purpose a choice of its own, and the channel."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from clinic.accounts.doors import go
from clinic.messages.actions.choosing import choose
from clinic.messages.doors import ANY, PatientRequest, patient
from clinic.messages.forms import WORDINGS, PreferencesForm
from clinic.patients.actions import allowed_purposes
from clinic.patients.models import Channel
from clinic.trail.clock import now

UNFIT = 422


@patient(ANY, methods=("GET", "POST"))
def preferences(request: PatientRequest) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    form = PreferencesForm(data, patient=request.patient, allowed=allowed_purposes(request.patient))
    if data is not None and form.is_valid():
        choose(
            patient=request.patient,
            channel=Channel(form.cleaned_data["channel"]),
            choices=form.choices(),
            wordings={purpose: str(wording) for purpose, wording in WORDINGS.items()},
            actor=request.actor,
            now=now(),
        )
        messages.success(request, _("Saved. We write to you as you have chosen."))
        return go(request, reverse("preferences"))
    return render(request, "messages/pages/preferences.html", {"form": form}, status=UNFIT if form.errors else 200)

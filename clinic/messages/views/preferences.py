"""Message preferences: each purpose a choice of its own, the channel, and an end to texts by one press."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from clinic.accounts.doors import go
from clinic.messages.actions.choosing import allow_texts, choose, end_texts
from clinic.messages.doors import ANY, PatientRequest, patient
from clinic.messages.forms import WORDINGS, PreferencesForm
from clinic.patients.contact import contact
from clinic.patients.models import Channel
from clinic.trail.clock import now

UNFIT = 422


@patient(ANY, methods=("GET", "POST"))
def preferences(request: PatientRequest) -> HttpResponse:
    if "texts" in request.POST:
        return _texts(request, ended=request.POST["texts"] == "end")
    chosen = contact(request.patient)
    data = request.POST if request.method == "POST" else None
    form = PreferencesForm(data, patient=request.patient, chosen=chosen)
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
    context = {"form": form, "texts_ended": chosen.texts_ended, "has_phone": bool(request.patient.phone)}
    return render(request, "messages/pages/preferences.html", context, status=UNFIT if form.errors else 200)


def _texts(request: PatientRequest, *, ended: bool) -> HttpResponse:
    if ended:
        wording = _("No more text messages")
        end_texts(patient=request.patient, wording=wording, actor=request.actor, now=now())
        messages.success(request, _("You get no more texts from us."))
    else:
        wording = _("Text messages are welcome again")
        allow_texts(patient=request.patient, wording=wording, actor=request.actor, now=now())
        messages.success(request, _("Saved. We may text you again."))
    return go(request, reverse("preferences"))

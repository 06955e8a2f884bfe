"""The patient's page to read the consent and sign it, and to withdraw it again."""

from django.http import HttpResponse
from django.shortcuts import redirect, render

from clinic.diary.kinds import VISIT
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.consent import wording
from whitening.consent.actions import frozen_text, sign, withdraw
from whitening.consent.forms import SignForm
from whitening.consent.reading import standing, talk_about
from whitening.screening.views.questions import case_of

PHONE_WORDS = ("iphone", "android", "mobile")


@patient(VISIT, methods=("GET", "POST"), code_needed=True)
def page(request: PatientRequest) -> HttpResponse:
    """Reads or signs. What is shown is hashed; only the same words can be signed."""
    case = case_of(request)
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    if plan is None or talk is None:
        return render(request, "consent/not_yet.html", {"case": case})
    held = standing(case, plan=plan)
    if held.signed_this_plan:
        return render(request, "consent/signed.html", {"case": case, "standing": held})
    text = frozen_text(case=case, plan=plan, talk=talk, now=now())
    form = SignForm(request.POST or None, initial={"seen_sha256": text.sha256})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                sign(case=case, given=form.given(device=_device(request)), actor=request.actor, now=now())
            except Refusal as refusal:
                form.add_error(None, str(refusal))
                status = 409
            else:
                return redirect("sign")
    context = {"case": case, "form": form, "text": text, "elements": wording.elements_of(text.body)}
    return render(request, "consent/sign.html", context, status=status)


@patient(VISIT, methods=("POST",), code_needed=True)
def withdrawn(request: PatientRequest) -> HttpResponse:
    """One tap; reasons are welcome, never asked for."""
    case = case_of(request)
    try:
        withdraw(case=case, words="", actor=request.actor, now=now())
    except Refusal as refusal:
        return render(request, "consent/withdrawn.html", {"case": case, "sentence": str(refusal)}, status=409)
    return render(request, "consent/withdrawn.html", {"case": case, "sentence": ""})


def _device(request: PatientRequest) -> str:
    """The class of device only: nothing that could tell one device from another is kept."""
    agent = request.headers.get("User-Agent", "").lower()
    return "phone" if any(word in agent for word in PHONE_WORDS) else "tablet or computer"

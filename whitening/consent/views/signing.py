"""The patient's pages: read the consent and sign it, withdraw it again, change what photographs are used for."""

from django.http import HttpResponse
from django.shortcuts import redirect, render

from clinic.diary.kinds import VISIT
from clinic.documents import archive, incoming
from clinic.documents.views.files import pdf_response
from clinic.documents.views.incoming import paper_response
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan
from whitening.consent import versions, wording
from whitening.consent.actions import NameDiffers, choose_photographs, frozen_text, sign, why_not_now, withdraw
from whitening.consent.differences import differences
from whitening.consent.forms import PhotosForm, SignForm
from whitening.consent.models import ConsentText, PaperReading, Talk
from whitening.consent.plan_words import assembled
from whitening.consent.reading import needed_on, photo_choices, quote_for, standing, talk_about
from whitening.screening.views.questions import case_of

PHONE_WORDS = ("iphone", "android", "mobile")


@patient(VISIT, methods=("GET", "POST"), code_needed=True)
def page(request: PatientRequest) -> HttpResponse:
    """Reads or signs. What is shown is hashed; only the same words can be signed."""
    case = case_of(request)
    plan = plan_in_force(case)
    held, today = standing(case, plan=plan), now().astimezone(case.site.zone).date()
    if held.holds_on(needed_on(case, today=today)):
        return render(request, "consent/signed.html", {"case": case, "standing": held})
    talk, why = talk_about(plan) if plan else None, why_not_now(case=case, now=now())
    if plan is None or talk is None or why is not None:
        return render(request, "consent/not_yet.html", {"case": case, "why": why}, status=_refused_if_sent(request))
    form, status = SignForm(request.POST if request.method == "POST" else None), 200
    name_asked = request.POST.get("name_asked", "")
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                sign(case=case, given=form.given(device=_device(request)), actor=request.actor, now=now())
            except NameDiffers as asked:
                name_asked = form.cleaned_data["name"]
                form.add_error("name", str(asked))
            except Refusal as refusal:
                form.add_error(None, str(refusal))
                status = 409
            else:
                return redirect("sign")
    # The hash of the words that this very page shows: sending it again is about these.
    text = frozen_text(case=case, plan=plan, talk=talk, now=now())
    context = {"case": case, "form": form, "text": text, "elements": wording.elements_of(text.body)}
    context["name_asked"] = name_asked
    context["read_again"] = _read_again(case, plan, talk, form, text) if status == 409 else frozenset()
    return render(request, "consent/sign.html", context, status=status)


def _read_again(case: Case, plan: Plan, talk: Talk, form: SignForm, text: ConsentText) -> frozenset[int]:
    """The elements that the practice worded anew while the page was open; none where something else changed."""
    seen, quote = versions.version_of(text.language, form.cleaned_data["seen_wording"]), quote_for(plan)
    if seen is None or quote is None:
        return frozenset()
    before = assembled(case=case, plan=plan, talk=talk, quote=quote, wording=seen)
    if wording.sha256(wording.body(before)) != form.cleaned_data["seen_sha256"]:
        return frozenset()
    return frozenset(change.number for change in differences(before, wording.elements_of(text.body)))


@patient(VISIT, code_needed=True)
def paper(request: PatientRequest) -> HttpResponse:
    return paper_of(request, case_of(request))


def paper_of(request: PatientRequest, case: Case) -> HttpResponse:
    """The very file that was made at signing, or the scan of the paper: the patient's own, also once withdrawn."""
    signature, status = standing(case).signature, 404
    try:
        if signature is not None and signature.reading is not None:
            return paper_response(signature.reading.paper, incoming.read(signature.reading.paper))
        if signature is not None and signature.document is not None:
            return pdf_response(signature.document, archive.read(signature.document.sha256), is_shown=True)
    except Refusal:
        status = 409
    return render(request, "consent/paper_missing.html", {"site": case.site, "status": status}, status=status)


@patient(VISIT, methods=("GET", "POST"))
def withdrawn(request: PatientRequest) -> HttpResponse:
    """One tap; reasons are welcome, never asked for. Without the code: who wants to stop is not held up."""
    case = case_of(request)
    if request.method == "GET":
        held = standing(case)
        stands = held.signature is not None and held.withdrawal is None
        can = stands or PaperReading.objects.waiting().filter(text__case=case).exists()
        return render(request, "consent/withdraw.html", {"case": case, "can": can})
    try:
        withdraw(case=case, words="", actor=request.actor, now=now())
    except Refusal as refusal:
        return render(request, "consent/withdrawn.html", {"case": case, "sentence": str(refusal)}, status=409)
    return render(request, "consent/withdrawn.html", {"case": case, "sentence": ""})


@patient(VISIT, methods=("GET", "POST"), code_needed=True)
def photographs(request: PatientRequest) -> HttpResponse:
    """Four separate choices, changed at any time."""
    case = case_of(request)
    form = PhotosForm(request.POST if request.method == "POST" else None, held=photo_choices(case))
    if form.is_bound and form.is_valid():
        choose_photographs(case=case, choices=form.choices(), actor=request.actor, now=now())
        return redirect("before_visit")
    return render(request, "consent/photographs.html", {"form": form}, status=422 if form.is_bound else 200)


def _refused_if_sent(request: PatientRequest) -> int:
    return 409 if request.method == "POST" else 200


def _device(request: PatientRequest) -> str:
    """The class of device only: nothing that could tell one device from another is kept."""
    agent = request.headers.get("User-Agent", "").lower()
    return "phone" if any(word in agent for word in PHONE_WORDS) else "tablet or computer"

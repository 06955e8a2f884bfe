"""The page on which an interpreter signs, on the practice's own screen."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.consent import wording
from whitening.consent.actions import NobodyInterpreted, interpreter_signs, text_to_interpret
from whitening.consent.forms import InterpreterForm
from whitening.consent.models import InterpreterKind
from whitening.consent.reading import interpreter_of


@staff(Capability.CONSENT_WITNESS, methods=("GET", "POST"))
def interpreter(request: StaffRequest, pk: int) -> HttpResponse:
    """Reads or signs; only the words that this very page shows can be signed under."""
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_WITNESS)
    note_read(
        actor=request.actor, what="consent", subject=("case", pk), patient_id=case.patient_id, site_id=case.site_id
    )
    is_sent = request.method == "POST"
    try:
        text = text_to_interpret(case=case, now=now())
        if text is None:
            raise NobodyInterpreted
    except Refusal as refusal:
        context = {"case": case, "sentence": str(refusal)}
        return render(request, "consent/no_interpreter.html", context, status=409 if is_sent else 200)
    by_phone = text.talk.interpreter == InterpreterKind.PHONE
    form = InterpreterForm(
        request.POST if is_sent else None, language=text.talk.interpreter_language, by_phone=by_phone
    )
    status = 422 if is_sent else 200
    if is_sent and form.is_valid():
        try:
            interpreter_signs(case=case, given=form.given(), user=request.user, actor=request.actor, now=now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            status = 409
        else:
            messages.success(request, _("The interpreter has signed."))
            return redirect("consent", pk=pk)
    context = {
        "case": case,
        "form": form,
        "text": text,
        "talk": text.talk,
        "elements": wording.elements_of(text.body),
        "signed": interpreter_of(text),
        "by_phone": by_phone,
    }
    return render(request, "consent/interpreter.html", context, status=status)

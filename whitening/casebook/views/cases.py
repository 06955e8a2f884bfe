"""Opening a case, its page, and closing it."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.diary.actions import send_page_again
from clinic.patients.access import access_patient
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions import end_case
from whitening.casebook.case_live import live_tag
from whitening.casebook.forms import CloseCaseForm, OpenCaseForm, PutOffForm
from whitening.casebook.next_steps import coming_visit
from whitening.casebook.page import case_page
from whitening.cases.access import access_case
from whitening.cases.actions import open_case
from whitening.cases.models import Case, CloseReason


@staff(Capability.CASE_OPEN, methods=("GET", "POST"))
def new(request: StaffRequest, patient_pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=patient_pk, to=Capability.CASE_OPEN)
    form = OpenCaseForm(request.POST if request.method == "POST" else None)
    status = 422 if form.is_bound else 200
    if form.is_bound and form.is_valid():
        try:
            case = open_case(patient=patient, user=request.user, actor=request.actor, now=now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
            status = 409
        else:
            messages.success(request, _("The case is open. Now find a time for the consultation."))
            return redirect("case_time", pk=case.pk, purpose="consultation")
    # One course at a time: whoever comes here a second time is shown the way to the first.
    open_already = Case.objects.visible_to(request.user).open().filter(patient=patient).first()
    context = {"patient": patient, "form": form, "open_already": open_already}
    return render(request, "casebook_pages/new.html", context, status=status)


@staff(Capability.CASE_READ)
def one(request: StaffRequest, pk: int) -> HttpResponse:
    """The page follows what is recorded elsewhere: it asks for itself again, and is answered 304 while it stands."""
    case = access_case(user=request.user, pk=pk, to=Capability.CASE_READ)
    if request.headers.get("If-None-Match") == f'"{live_tag(case, now=now())}"':
        return HttpResponseNotModified()
    note_read(actor=request.actor, what="case", subject=("case", pk), patient_id=case.patient_id, site_id=case.site_id)
    return case_response(request, case)


def case_response(
    request: StaffRequest, case: Case, *, put_off_form: PutOffForm | None = None, status: int = 200
) -> HttpResponse:
    """The case's page, as it stands after whatever was tried on it."""
    at, is_open = now(), case.closed_at is None
    context = {
        # A refused form stands at an address that cannot be asked for again: it follows nothing.
        "tag": live_tag(case, now=at) if status == 200 else "",
        "page": case_page(case, user=request.user, now=at),
        "case": case,
        "close_form": CloseCaseForm(),
        "put_off_form": put_off_form or PutOffForm(initial={"version": case.version}),
        "is_put_off": case.is_put_off(at.astimezone(case.site.zone).date()),
        "may_put_off": is_open and may(request.user, Capability.EXAMINE_AND_DECIDE, case.site),
        "may_read_why": may(request.user, Capability.ANSWERS_READ, case.site),
        "may_ask": may(request.user, Capability.SESSION_OPEN, case.site),
        "may_close": is_open and may(request.user, Capability.CASE_CLOSE, case.site),
    }
    return render(request, "casebook_pages/case.html", context, status=status)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def send_link(request: StaffRequest, pk: int) -> HttpResponse:
    """The patient's page once more: the link of the next visit."""
    case, at = access_case(user=request.user, pk=pk, to=Capability.MESSAGES_SEND), now()
    visit = coming_visit(list(case.visits.select_related("booking__site")), at)
    if visit is None:
        messages.error(request, _("No visit is booked. Book one first: the patient's page belongs to a visit."))
        return redirect("case", pk=pk)
    try:
        send_page_again(booking=visit.booking, user=request.user, actor=request.actor, now=at)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The link is on its way. Earlier ones end when the new one goes out."))
    return redirect("case", pk=pk)


@staff(Capability.CASE_CLOSE, methods=("POST",))
def close(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.CASE_CLOSE)
    form = CloseCaseForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Pick the reason why the case closes."))
        return redirect("case", pk=pk)
    try:
        end_case(
            case=case,
            reason=CloseReason(form.cleaned_data["reason"]),
            words=form.cleaned_data["words"],
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The case is closed."))
    return redirect("case", pk=pk)

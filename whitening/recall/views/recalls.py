"""Asked back: the patient's page with real openings and two other answers, and the list that staff read."""

from datetime import datetime

from django.core.paginator import Paginator
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import actions as diary
from clinic.diary import own_changes
from clinic.diary.forms import StartForm
from clinic.diary.models import OwnAct, VisitCode, VisitType
from clinic.diary.openings import Wanted
from clinic.diary.patients_alone import patient_window
from clinic.diary.selfservice.words import PICK_ONE, for_patient
from clinic.diary.views.own_times import times
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.recall import actions, funnel
from whitening.recall.actions import recalling
from whitening.recall.asking_back import NEXT_CHECK
from whitening.recall.models import Recall, RecallAnswer

SHOWN = 50


@staff(Capability.FOLLOWUPS_READ)
def recalls(request: StaffRequest) -> HttpResponse:
    at = now()
    pages = Paginator(funnel.coming(request.user, now=at), SHOWN)
    context = {
        "funnels": list(funnel.funnels(request.user, now=at)),
        "page": pages.get_page(request.GET.get("page")),
        "names_site": len(request.user.roles_by_site) > 1,
    }
    return render(request, "recall/recalls.html", context)


@patient(NEXT_CHECK, methods=("GET", "POST"))
def next_check(request: PatientRequest) -> HttpResponse:
    """Examined first: what is booked here is a consultation, whatever it leads to."""
    row, at = _recall_of(request), now()
    booking = actions.next_visit(row, now=at)
    if booking is not None or not actions.may_answer(row, now=at):
        context = {"recall": row, "site": row.case.site, "booking": booking}
        return render(request, "recall/next_check_said.html", context)
    if request.method == "GET":
        return _page(request, row, at, "")
    if request.POST.get("answer") in RecallAnswer.values:
        actions.answer_recall(row=row, said=RecallAnswer(request.POST["answer"]), actor=request.actor, now=at)
        return redirect("next_check")
    start, window = StartForm(request.POST), _window(row, at)
    if window is None or not start.is_valid() or not window[0] <= start.cleaned_data["start_at"] < window[1]:
        return _page(request, row, at, PICK_ONE, status=422)
    try:
        _book(request, row, start.cleaned_data["start_at"], at)
    except Refusal as refusal:
        return _page(request, row, at, for_patient(refusal), status=409)
    return redirect("next_check")


def _recall_of(request: PatientRequest) -> Recall:
    """The link says whose it is."""
    rows = Recall.objects.select_related("case__site", "case__patient")
    row = rows.filter(pk=request.link.subject_id, case__patient=request.patient).first()
    if row is None:
        raise Http404
    return row


def _book(request: PatientRequest, row: Recall, start_at: datetime, at: datetime) -> None:
    visit_type = _visit_type(row)
    if visit_type is None:
        raise diary.OutsideOpeningHours
    # Two presses at once: the second waits here and then finds that the first has booked.
    with diary.one_at_a_time(row.case.patient), transaction.atomic():
        held = recalling.held(row.pk)
        if actions.next_visit(held, now=at) is not None or not actions.may_answer(held, now=at):
            return
        wish = diary.BookingRequest(row.case.patient, visit_type, start_at)
        booking = diary.book(site=row.case.site, request=wish, actor=request.actor, now=at)
        own_changes.note(OwnAct.PICKED, booking, actor=request.actor, now=at)
        actions.booked_back(row=held, actor=request.actor, now=at)


def _page(
    request: PatientRequest, row: Recall, at: datetime, error: StrOrPromise, *, status: int = 200
) -> HttpResponse:
    visit_type, window = _visit_type(row), _window(row, at)
    wanted = Wanted(visit_type, now=at) if visit_type is not None else None
    found = times(request, site=row.case.site, wanted=wanted, between=window or (at, at))
    context = {"error": error, "recall": row, "answers": RecallAnswer.choices, "may_pick": window is not None, **found}
    return render(request, "recall/next_check.html", context, status=status)


def _window(row: Recall, at: datetime) -> tuple[datetime, datetime] | None:
    visit_type = _visit_type(row)
    return patient_window(visit_type, now=at) if visit_type is not None else None


def _visit_type(row: Recall) -> VisitType | None:
    rows = VisitType.objects.filter(site=row.case.site, code=VisitCode.CONSULTATION, active=True, patient_may_book=True)
    return rows.select_related("site").order_by("pk").first()

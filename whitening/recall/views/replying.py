"""The patient's page "How are you?": opens when the session closes, takes any number of answers."""

import logging
from datetime import timedelta
from http import HTTPStatus

from django.core import signing
from django.db import DatabaseError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from whitening.chairside.models import Session
from whitening.recall.actions import cannot_wait, grade, record_reply
from whitening.recall.forms import ALL_WELL, HowAreYouForm
from whitening.recall.kinds import HOW_ARE_YOU
from whitening.recall.models import Reply
from whitening.recall.reading_hours import reads_at
from whitening.recall.telling import told, told_unkept
from whitening.recall.triage import Answers

logger = logging.getLogger(__name__)
SALT = "whitening.recall.said"
RECEIPT_LASTS = timedelta(hours=2)


def session_of(request: PatientRequest) -> Session:
    """The session whose link was opened; the link itself says whose it is."""
    rows = Session.objects.select_related("case__site", "case__patient")
    session = rows.filter(pk=request.link.subject_id, case__patient=request.patient).first()
    if session is None:
        raise Http404
    return session


@patient(HOW_ARE_YOU, methods=("GET", "POST"), write_only_ok=True)
def how_are_you(request: PatientRequest) -> HttpResponse:
    """One press says that all is well; the questions below are for everything else."""
    session = session_of(request)
    if request.method == "POST" and "all_well" in request.POST:
        return _keep(request, session, ALL_WELL)
    form = HowAreYouForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and (
        form.is_valid() or cannot_wait(session=session, answers=form.answers(), now=now())
    ):
        return _keep(request, session, form.answers())
    context = {"form": form, "may_open_sheet": not request.link.write_only, **_whom_to_call(session)}
    return render(request, "recall/how_are_you.html", context, status=422 if form.is_bound else 200)


@patient(HOW_ARE_YOU, write_only_ok=True)
def said(request: PatientRequest, receipt: str) -> HttpResponse:
    """What to do now, straight after an answer. Only the receipt of that answer opens it, so it shows no record."""
    session = session_of(request)
    try:
        pk = signing.loads(receipt, salt=SALT, max_age=RECEIPT_LASTS)
    except signing.BadSignature:
        return redirect("how_are_you")
    rows = Reply.objects.select_related("case__site", "case__patient", "escalation")
    reply = get_object_or_404(rows, pk=pk, case=session.case)
    context = {**_whom_to_call(session), "told": told(reply, at=now())}
    return render(request, "recall/said.html", context)


def _whom_to_call(session: Session) -> dict[str, object]:
    """Numbers, and outside opening hours when somebody reads what is written here."""
    site, at = session.case.site, now()
    read_from = reads_at(site, now=at)
    return {"site": site, "is_open": read_from == at, "reads_at": read_from}


def _keep(request: PatientRequest, session: Session, answers: Answers) -> HttpResponse:
    try:
        reply, _graded = record_reply(session=session, answers=answers, actor=request.actor, now=now())
    except DatabaseError:
        # Nobody waits for a number to call until a disk has room again.
        logger.exception("an answer to session %s could not be kept", session.pk)
        return _not_kept(request, session, answers)
    return redirect("how_are_you_said", receipt=signing.dumps(reply.pk, salt=SALT))


def _not_kept(request: PatientRequest, session: Session, answers: Answers) -> HttpResponse:
    """What to do is said all the same, from the answers alone."""
    at = now()
    graded = grade(session=session, answers=answers, now=at)
    advice = told_unkept(graded, case=session.case, sensitivity=answers.sensitivity, at=at)
    context = {**_whom_to_call(session), "told": advice}
    return render(request, "recall/not_kept.html", context, status=HTTPStatus.SERVICE_UNAVAILABLE)

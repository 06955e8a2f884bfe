"""The patient's pages: one question at a time, reading ahead, and thanks. No grade, code or score is shown."""

from datetime import timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from clinic.diary.kinds import VISIT
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.screening import answers as answering
from whitening.screening.actions import hand_in, keep_answer, mark_read_ahead
from whitening.screening.actions.answering import draft_of
from whitening.screening.audience import thanks_words
from whitening.screening.models import Source
from whitening.screening.questions import Question, home_questions, next_question, question_before

WORKING_DAYS_TO_CALL = 2  # common practice, no source


def case_of(request: PatientRequest) -> Case:
    """The case of the visit whose link was opened. The link itself says whose it is; nothing comes from the address."""
    rows = Case.objects.select_related("site", "patient").filter(visits__booking=request.link.subject_id)
    case = rows.filter(patient=request.patient, closed_at=None).first()
    if case is None:
        raise Http404
    return case


@patient(VISIT)
def start(request: PatientRequest) -> HttpResponse:
    """Where it was left: the next open question, or the page that hands the answers in."""
    case = case_of(request)
    values = answering.from_data(draft_of(case, now=now()).values)
    waiting = next_question(values)
    return redirect("question", name=waiting.id) if waiting else redirect("questions_done")


@patient(VISIT, methods=("GET", "POST"))
def question(request: PatientRequest, name: str) -> HttpResponse:
    case = case_of(request)
    values = answering.from_data(draft_of(case, now=now()).values)
    asked = next((one for one in home_questions(values) if one.id == name), None)
    if asked is None:
        raise Http404
    error = ""
    if request.method == "POST":
        try:
            draft = keep_answer(case=case, question=asked, raw=request.POST.getlist("answer"), now=now())
        except Refusal as refusal:
            error = str(refusal)
        else:
            waiting = next_question(answering.from_data(draft.values))
            return redirect("question", name=waiting.id) if waiting else redirect("questions_done")
    return _page(request, asked, values, error)


@patient(VISIT, methods=("GET", "POST"))
def done(request: PatientRequest) -> HttpResponse:
    """All answered: hand them in, or go back and change one."""
    case = case_of(request)
    values = answering.from_data(draft_of(case, now=now()).values)
    if request.method == "POST":
        try:
            hand_in(case=case, source=Source.LINK, language=get_language() or "", actor=request.actor, now=now())
        except Refusal as refusal:
            return render(request, "screening/done.html", _done(values, str(refusal)), status=409)
        return redirect("questions_thanks")
    if next_question(values) is not None:
        return redirect("questions")
    return render(request, "screening/done.html", _done(values, ""))


@patient(VISIT)
def thanks(request: PatientRequest) -> HttpResponse:
    case = case_of(request)
    call_by = now().astimezone(case.site.zone) + timedelta(days=WORKING_DAYS_TO_CALL)
    said = thanks_words(call_by=date_format(call_by, "l j F"), phone=str(case.site.phone.as_international))
    return render(request, "screening/thanks.html", {"sentences": said})


@patient(VISIT, methods=("GET", "POST"))
def read_ahead(request: PatientRequest) -> HttpResponse:
    """What whitening is, what it can do and cannot, and what may happen; nothing is signed here."""
    case = case_of(request)
    if request.method == "POST":
        mark_read_ahead(case=case, now=now())
        return redirect("before_visit")
    return render(request, "screening/read_ahead.html", {"case": case})


def _page(
    request: PatientRequest, asked: Question, values: dict[str, answering.AnswerValue], error: str
) -> HttpResponse:
    some = home_questions(values)
    before = question_before(name=asked.id, values=values)
    given = values.get(asked.id)
    context = {
        "question": asked,
        "given": given.isoformat() if hasattr(given, "isoformat") else given,
        "typed": request.POST.getlist("answer"),
        "lines": "\n".join(given) if isinstance(given, tuple) else "",
        "before": before,
        "number": [one.id for one in some].index(asked.id) + 1,
        "count": len(some),
        "scale": range(11),
        "error": error,
        "none": answering.NONE_TAKEN,
    }
    return render(request, "screening/question.html", context, status=422 if error else 200)


def _done(values: dict[str, answering.AnswerValue], error: str) -> dict[str, object]:
    shown = [(one, answer_words(one, values.get(one.id))) for one in home_questions(values)]
    return {"answers": shown, "error": error}


def answer_words(asked: Question, value: answering.AnswerValue | None) -> str:
    """The answer as the patient gave it, in words."""
    if isinstance(value, tuple):
        return ", ".join(value) or _("none")
    if hasattr(value, "isoformat"):
        return date_format(value, "j M Y")
    return str(dict(asked.choices).get(str(value), value if value is not None else ""))

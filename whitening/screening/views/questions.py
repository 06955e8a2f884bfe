"""The patient's pages: one question at a time, reading ahead, and thanks. No grade, code or score is shown.

What was answered in another visit is read back only after the code: until then the page says that there
is an answer, and not which.
"""

from collections.abc import Mapping
from datetime import date, timedelta

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from clinic.accounts.dates import day_words
from clinic.diary.kinds import VISIT
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.screening import answers as answering
from whitening.screening.actions import HandedInAlready, hand_in, keep_answer, mark_read_ahead
from whitening.screening.actions.answering import draft_of
from whitening.screening.audience import thanks_words
from whitening.screening.facts import AnswerValue
from whitening.screening.ingredients import names
from whitening.screening.models import AnswerDraft, Source
from whitening.screening.questions import MEDICINES, Question, home_questions, next_question, question_before
from whitening.screening.reading import newest_answers
from whitening.screening.views.words import answer_words

WORKING_DAYS_TO_CALL = 2  # common practice, no source
SATURDAY = 5


def case_of(request: PatientRequest) -> Case:
    """The case of the visit whose link was opened. The link itself says whose it is; nothing comes from the address."""
    rows = Case.objects.select_related("site", "patient").filter(visits__booking=request.link.subject_id)
    case = rows.filter(patient=request.patient, closed_at=None).first()
    if case is None:
        raise Http404
    return case


@patient(VISIT)
def start(request: PatientRequest) -> HttpResponse:
    """Where it was left: the next open question, or the page that hands the answers in, or what happens now."""
    case = case_of(request)
    values = answering.from_data(draft_of(case, now=now()).values)
    if not values and newest_answers(case) is not None:
        return redirect("questions_thanks")
    waiting = next_question(values)
    return redirect("question", name=waiting.id) if waiting else redirect("questions_done")


@patient(VISIT, methods=("GET", "POST"))
def question(request: PatientRequest, name: str) -> HttpResponse:
    case = case_of(request)
    draft = draft_of(case, now=now())
    asked = next((one for one in home_questions(answering.from_data(draft.values)) if one.id == name), None)
    if asked is None:
        raise Http404
    error = ""
    if request.method == "POST":
        if request.POST.get("round", _round(case)) != _round(case):
            messages.info(request, _("This page was older than what you handed in. Nothing was changed."))
            return redirect("questions_thanks")
        raw = request.POST.getlist("answer")
        try:
            draft = keep_answer(case=case, question=asked, raw=raw, now=now(), visit=request.visit.pk)
        except Refusal as refusal:
            error = str(refusal)
        else:
            waiting = next_question(answering.from_data(draft.values))
            return redirect("question", name=waiting.id) if waiting else redirect("questions_done")
    return _page(request, case, asked, draft, error)


@patient(VISIT, methods=("GET", "POST"))
def done(request: PatientRequest) -> HttpResponse:
    """All answered: hand them in, or go back and change one."""
    case = case_of(request)
    if request.method == "POST":
        try:
            hand_in(case=case, source=Source.LINK, language=get_language() or "", actor=request.actor, now=now())
        except HandedInAlready:
            return redirect("questions_thanks")
        except Refusal as refusal:
            draft = draft_of(case, now=now())
            return render(request, "screening/done.html", _done(request, draft, str(refusal)), status=409)
        return redirect("questions_thanks")
    draft = draft_of(case, now=now())
    if next_question(answering.from_data(draft.values)) is not None:
        return redirect("questions")
    return render(request, "screening/done.html", _done(request, draft, ""))


@patient(VISIT, code_needed=True)
def shown(request: PatientRequest) -> HttpResponse:
    """After the code, answers of earlier visits may be read again."""
    return redirect("questions_done")


@patient(VISIT)
def thanks(request: PatientRequest) -> HttpResponse:
    case = case_of(request)
    given = newest_answers(case)
    if given is None:
        return redirect("questions")
    handed_in_on = given.handed_in_at.astimezone(case.site.zone).date()
    day = call_by(handed_in_on, visit_on=_visit_day(case, request))
    phone = str(case.site.phone.as_international) if case.site.phone else case.site.name
    said = thanks_words(call_by=day_words(day), phone=phone)
    first = home_questions({})[0]
    return render(request, "screening/thanks.html", {"sentences": said, "first": first})


def call_by(handed_in_on: date, *, visit_on: date | None) -> date:
    """Two working days later, and never after the day of the visit itself."""
    day, left = handed_in_on, WORKING_DAYS_TO_CALL
    while left:
        day += timedelta(days=1)
        left -= day.weekday() < SATURDAY
    return min(day, visit_on) if visit_on is not None and visit_on >= handed_in_on else day


@patient(VISIT, methods=("GET", "POST"))
def read_ahead(request: PatientRequest) -> HttpResponse:
    """What whitening is, what it can do and cannot, and what may happen; nothing is signed here."""
    case = case_of(request)
    if request.method == "POST":
        mark_read_ahead(case=case, now=now())
        return redirect("before_visit")
    return render(request, "screening/read_ahead.html", {"case": case})


def _visit_day(case: Case, request: PatientRequest) -> date | None:
    visit = case.visits.select_related("booking").filter(booking=request.link.subject_id).first()
    return visit.booking.wall_on if visit else None


def _round(case: Case) -> str:
    """How often answers were handed in: a page from before the last time is told from one of today."""
    return str(case.answer_sets.count())


def _may_see(request: PatientRequest, draft: AnswerDraft, name: str) -> bool:
    return request.visit.code_passed_at is not None or draft.given_in.get(name) == request.visit.pk


def _page(request: PatientRequest, case: Case, asked: Question, draft: AnswerDraft, error: str) -> HttpResponse:
    values = answering.from_data(draft.values)
    some = home_questions(values)
    place = [one.id for one in some].index(asked.id)
    given = values.get(asked.id)
    seen = given if given is not None and _may_see(request, draft, asked.id) else None
    context = {
        "question": asked,
        "round": _round(case),
        "before": question_before(name=asked.id, values=values),
        "after": some[place + 1] if place + 1 < len(some) else None,
        "hidden": given is not None and seen is None,
        "number": place + 1,
        "count": len(some),
        "scale": [str(number) for number in range(11)],
        "error": error,
        "none": answering.NONE_TAKEN,
        "names": names() if asked.id == MEDICINES else (),
        **(_typed(request) if error else _shown(seen)),
    }
    return render(request, "screening/question.html", context, status=422 if error else 200)


def _shown(value: AnswerValue | None) -> dict[str, object]:
    """The answer as its control wants it: a word, lines, and whether "none" was ticked."""
    if isinstance(value, tuple):
        return {"given": "", "picked": value, "lines": "\n".join(value), "none_ticked": value == ()}
    given = value.isoformat() if isinstance(value, date) else "" if value is None else str(value)
    return {"given": given, "picked": (), "lines": "", "none_ticked": False}


def _typed(request: PatientRequest) -> dict[str, object]:
    """What was sent stays on the page, also when it could not be kept."""
    sent = request.POST.getlist("answer")
    lines = [line for line in sent if line != answering.NONE_TAKEN]
    return {
        "given": sent[0] if sent else "",
        "picked": sent,
        "lines": "\n".join(lines),
        "none_ticked": answering.NONE_TAKEN in sent,
    }


def _done(request: PatientRequest, draft: AnswerDraft, error: str) -> Mapping[str, object]:
    values = answering.from_data(draft.values)
    seen = {name: value for name, value in values.items() if _may_see(request, draft, name)}
    rows = [
        (one, answer_words(one, seen.get(one.id)), one.id in values and one.id not in seen)
        for one in home_questions(values)
    ]
    return {"answers": rows, "error": error, "some_hidden": any(hidden for _one, _words, hidden in rows)}

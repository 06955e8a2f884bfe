"""The records as they stood at one moment of the past, and what had changed by then."""

from dataclasses import dataclass

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django_stubs_ext import StrOrPromise

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.trail.access import note_read
from whitening.cases.access import access_case
from whitening.screening.history import Known, Moment, known_at, moments
from whitening.screening.questions import questionnaire
from whitening.screening.reading import given_from_data
from whitening.screening.signed import Line, lines, to_data
from whitening.screening.views.words import answer_words


@staff(Capability.ANSWERS_READ)
def known(request: StaffRequest, pk: int) -> HttpResponse:
    """`?moment=2` is the second one; without it, the newest."""
    case = access_case(user=request.user, pk=pk, to=Capability.ANSWERS_READ)
    note_read(
        actor=request.actor, what="answers", subject=("case", pk), patient_id=case.patient_id, site_id=case.site_id
    )
    listed = moments(case)
    number = _number(request.GET.get("moment", ""), len(listed))
    then = known_at(case, listed[number - 1].at) if listed else None
    before = known_at(case, listed[number - 2].at) if number > 1 else None
    context = {
        "case": case,
        "moments": [*reversed([_Row(place, one, place == number) for place, one in enumerate(listed, start=1)])],
        "chosen": listed[number - 1] if listed else None,
        "then": then,
        "answers": _answers(then) if then else [],
        "lines": _lines(then),
        "came": [line for line in _lines(then) if line not in _lines(before)],
        "went": [line for line in _lines(before) if line not in _lines(then)],
    }
    return render(request, "screening/known.html", context)


@dataclass(frozen=True, slots=True)
class _Row:
    number: int
    moment: Moment
    is_chosen: bool


def _number(asked: str, count: int) -> int:
    if not asked:
        return count
    if not asked.isdecimal() or len(asked) > len(str(count)) or not 1 <= int(asked) <= count:
        raise Http404
    return int(asked)


def _lines(then: Known | None) -> list[Line]:
    return lines(to_data(then.outcome)) if then else []


def _answers(then: Known) -> list[tuple[StrOrPromise, str]]:
    given = given_from_data(then.answers.values) if then.answers else {}
    asked = [question for question in questionnaire().questions if question.id in given]
    return [(question.text, answer_words(question, given[question.id].value)) for question in asked]

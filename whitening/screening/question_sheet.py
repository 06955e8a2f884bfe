"""The questions on paper: those that a patient is asked at home, to be ticked by hand. Pure, but for the printing.

What a clinician asks face to face is not on it, and neither is any answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.models import Site
from clinic.documents import kinds
from clinic.documents.actions import Prepared, print_out
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from whitening.screening.questions import Kind, Question, Questionnaire, questionnaire

KIND = "question_sheet"
SCORES = tuple(range(11))


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """boxes: what can be ticked. only_if: which earlier answer this question belongs to, in words."""

    number: int
    text: str
    hint: str
    kind: Kind
    boxes: Sequence[str]
    only_if: str

    @property
    def is_written(self) -> bool:
        return self.kind is Kind.LIST

    @property
    def is_short(self) -> bool:
        """The boxes stand in one row."""
        return self.kind in {Kind.YES_NO, Kind.YES_NO_UNSURE}


def lines(asked: Questionnaire | None = None) -> list[Line]:
    """In the order in which they are asked; called with the reader's language active."""
    shown = [one for one in (asked or questionnaire()).questions if not one.private]
    numbers = {one.id: number for number, one in enumerate(shown, 1)}
    by_id = {one.id: one for one in shown}
    return [
        Line(
            number=numbers[one.id],
            text=str(one.text),
            hint=str(one.hint),
            kind=one.kind,
            boxes=_boxes(one),
            only_if=_only_if(one, numbers, by_id),
        )
        for one in shown
    ]


def _boxes(question: Question) -> list[str]:
    boxes = [str(text) for _value, text in question.choices]
    if question.kind is Kind.NUMBER:
        boxes = [str(score) for score in SCORES]
    return [*boxes, str(question.none)] if question.none else boxes


def _only_if(question: Question, numbers: dict[str, int], by_id: dict[str, Question]) -> str:
    parts = []
    for name, wanted in question.asked_when.items():
        said = [str(text) for value, text in by_id[name].choices if value in wanted]
        answers = _(" or ").join(_("“%(answer)s”") % {"answer": one} for one in said)
        parts.append(_("Only if you ticked %(answers)s at %(number)d.") % {"answers": answers, "number": numbers[name]})
    return " ".join(parts)


def print_questions(
    *,
    site: Site,
    language: str,
    subject: tuple[str, int | str],
    actor: Actor,
    now: datetime,
    patient: Patient | None = None,
    large_print: bool = False,
) -> Prepared:
    """Blank, or with the name of one patient on every page. Noted and not kept: nothing is answered on it yet."""
    return print_out(
        kind=KIND,
        site=site,
        patient=patient,
        context={"lines": lines, "version": questionnaire().version},
        language=language,
        title=gettext_lazy("Questions before your visit"),
        subject=subject,
        actor=actor,
        now=now,
        large_print=large_print,
    )


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=gettext_lazy("blank questions"),
            clinical=False,
            template="documents/question_sheet.html",
            version=1,
            kept=False,
        )
    )

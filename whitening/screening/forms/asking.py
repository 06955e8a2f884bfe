"""Questions that are still open, asked at the practice."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import NativeDate
from whitening.screening.answers import NONE_TAKEN, SCALE, AnswerMissing, AnswerRefused, read_answer
from whitening.screening.facts import AnswerValue
from whitening.screening.models import Source
from whitening.screening.questions import IN_PRIVATE, Kind, Question


class AskForm(forms.Form):
    """One field per open question; what is left empty stays open. Nothing is ticked beforehand."""

    source = forms.ChoiceField(
        label=_("How they were answered"),
        choices=[(one.value, one.label) for one in (Source.CHAIR, Source.PHONE, Source.PAPER)],
        initial=Source.CHAIR,
    )

    def __init__(self, *args: Any, questions: Sequence[Question], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.questions, self.today = questions, today
        for question in questions:
            self.fields[question.id] = _field(question)

    def asked(self) -> Iterable[forms.BoundField]:
        return [self[question.id] for question in self.questions]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for question in self.questions:
            raw = cleaned.pop(question.id, None)
            if not raw:
                continue
            given = raw if isinstance(raw, list) else [raw]
            try:
                cleaned[question.id] = read_answer(question=question, raw=given, today=self.today)
            except AnswerMissing:
                continue
            except AnswerRefused as refused:
                self.add_error(question.id, str(refused))
        return cleaned

    def values(self) -> dict[str, AnswerValue]:
        return {one.id: self.cleaned_data[one.id] for one in self.questions if one.id in self.cleaned_data}


def _field(question: Question) -> forms.Field:
    field = _control(question)
    field.label, field.required = question.text, False
    field.help_text = field.help_text or question.hint
    return field


def _control(question: Question) -> forms.Field:
    match question.kind:
        case Kind.LIST:
            hint = format_lazy(_("One on each line. When there is none, write: {none}"), none=NONE_TAKEN)
            return forms.CharField(max_length=8_000, help_text=hint, widget=forms.Textarea({"rows": 3}))
        case Kind.DATE:
            return forms.CharField(max_length=10, widget=NativeDate)
        case Kind.SEVERAL:
            offered = [*question.choices, (NONE_TAKEN, question.none)]
            return forms.MultipleChoiceField(choices=offered, widget=forms.CheckboxSelectMultiple)
        case Kind.NUMBER:
            return forms.ChoiceField(choices=[("", ""), *((text, text) for text in SCALE)])
        case _:
            # Face to face there is nothing to put off.
            choices = [choice for choice in question.choices if choice[0] != IN_PRIVATE]
            return forms.ChoiceField(choices=choices, widget=forms.RadioSelect)

"""A letter about one finding: to whom, what is asked, what is planned."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.text import LinesField
from whitening.screening.actions import LetterDetails
from whitening.screening.letters import question_words
from whitening.screening.outcome import Finding


class LetterForm(forms.Form):
    rule = forms.CharField(widget=forms.HiddenInput, max_length=12)
    addressee = LinesField(
        label=_("To whom"),
        help_text=_("Name and address, as they shall stand on the letter."),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": _("Write to whom the letter goes.")},
    )
    question = LinesField(
        label=_("The question"),
        help_text=_("Only what is needed for the answer."),
        max_length=1500,
        widget=forms.Textarea(attrs={"rows": 5}),
        error_messages={"required": _("Write what you want to know.")},
    )
    planned = LinesField(
        label=_("What is planned"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": _("Write what is planned: without it nobody can answer.")},
    )
    patient_agrees = forms.BooleanField(
        label=_("The patient knows of this letter and agrees to it"),
        error_messages={
            "required": _("Ask the patient first: nothing about them leaves the practice without their word.")
        },
    )

    @classmethod
    def about(cls, finding: Finding, *, planned: str, held: "LetterForm | None" = None) -> "LetterForm":
        """The form under one finding; what was typed about it before a refusal is kept."""
        code = finding.rule.code
        if held is not None and held.data.get("rule") == code:
            return held
        initial = {"rule": code, "question": question_words(finding.rule), "planned": planned}
        return cls(initial=initial, auto_id=f"letter_{code}_%s")

    @classmethod
    def sent(cls, data: Any) -> "LetterForm":
        return cls(data, auto_id=f"letter_{data.get('rule', '')[:12]}_%s")

    def details(self) -> LetterDetails:
        return LetterDetails(**self.cleaned_data)

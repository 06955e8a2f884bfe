"""The fields of one message's words, and the press that goes back to the program's."""

from collections.abc import Iterable
from typing import Any, Self

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.text import LineField, LinesField
from clinic.messages.models.wordings import SUBJECT_LENGTH, TEXT_LENGTH
from clinic.messages.wordings.faults import Fault
from clinic.messages.wordings.slots import Part
from clinic.patients.models import Channel

_FIELDS = {Part.SUBJECT: "subject", Part.TEXT: "text", Part.SMS: "text"}


class _Read:
    """Wanted all the same. What is missing, the reader of the words says, everything at once."""

    def validate(self, value: object) -> None:
        pass


class ReadLine(_Read, LineField):
    pass


class ReadLines(_Read, LinesField):
    pass


class SeenForm(forms.Form):
    seen_number = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=1_000_000)


class WordsForm(SeenForm):
    def __init__(self, *args: Any, channel: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if channel == Channel.EMAIL:
            self.fields["subject"] = ReadLine(
                label=_("Subject"),
                max_length=SUBJECT_LENGTH,
                help_text=_("It shows on locked screens: nothing of what a visit is about."),
                widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
            )
            self.fields["text"] = ReadLines(
                label=_("Text"),
                max_length=TEXT_LENGTH,
                help_text=_("An empty line begins a new paragraph. The foot with your address follows by itself."),
                widget=forms.Textarea(attrs={"rows": 14, "dir": "auto"}),
            )
        else:
            self.fields["text"] = ReadLine(
                label=_("Text message"),
                max_length=TEXT_LENGTH,
                help_text=_("It shows on locked screens: nothing of what a visit is about."),
                widget=forms.Textarea(attrs={"rows": 5, "dir": "auto"}),
            )

    @classmethod
    def of(cls, subject: str, text: str, *, channel: str, seen_number: int) -> Self:
        return cls(initial={"subject": subject, "text": text, "seen_number": seen_number}, channel=channel)

    @property
    def subject(self) -> str:
        return str(self.cleaned_data.get("subject", ""))

    @property
    def text(self) -> str:
        return str(self.cleaned_data["text"]).strip()

    def take(self, faults: Iterable[Fault]) -> None:
        for fault in faults:
            self.add_error(_FIELDS[fault.part], fault.sentence)

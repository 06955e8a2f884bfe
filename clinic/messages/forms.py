"""What a patient fills in on the private pages."""

from collections.abc import Iterable
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrPromise

from clinic.accounts.fields import TypedDate, TypedDateField
from clinic.messages.visits import CODE_DIGITS
from clinic.patients.models import Channel, Patient, Purpose

# The very words that are shown beside each box, and kept as proof of what was chosen.
WORDINGS: dict[Purpose, StrPromise] = {
    Purpose.APPOINTMENT: _("Write to me about my appointments."),
    Purpose.SAFETY: _("Ask me how I am after a visit."),
    Purpose.RECALL: _("Tell me when my next check is due."),
    Purpose.COLOUR: _("Remind me in about a year about the colour of my teeth."),
}


class PrivateForm(forms.Form):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True


class BirthDateForm(PrivateForm):
    birth_on = TypedDateField(
        label=_("Your date of birth"),
        widget=TypedDate({"autocomplete": "bday"}),
        error_messages={"required": _("Enter your date of birth.")},
    )


class CodeForm(PrivateForm):
    code = forms.CharField(
        label=_("The code we sent you"),
        help_text=_("Six digits."),
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
        error_messages={"required": _("Enter the six digits of the code.")},
    )

    def clean_code(self) -> str:
        # Digits of any script, with whatever spaces came along when the code was copied.
        code = "".join(str(int(sign)) for sign in self.cleaned_data["code"] if sign.isdecimal())
        if len(code) != CODE_DIGITS:
            raise forms.ValidationError(_("The code has six digits. Look at the newest message."))
        return code


class PreferencesForm(PrivateForm):
    channel = forms.ChoiceField(label=_("Reach me by"), choices=Channel.choices, widget=forms.RadioSelect)

    def __init__(self, *args: Any, patient: Patient, allowed: dict[Purpose, bool], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["channel"].initial = patient.channel
        for purpose, wording in WORDINGS.items():
            self.fields[purpose.value] = forms.BooleanField(label=wording, required=False, initial=allowed[purpose])

    def choices(self, purposes: Iterable[Purpose] = tuple(Purpose)) -> dict[Purpose, bool]:
        return {purpose: bool(self.cleaned_data[purpose.value]) for purpose in purposes}

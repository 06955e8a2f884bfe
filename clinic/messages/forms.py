"""What a patient fills in on the private pages."""

from collections.abc import Iterable
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrPromise

from clinic.accounts.fields import TypedDate, TypedDateField
from clinic.messages.visits import CODE_DIGITS
from clinic.patients.contact import Contact
from clinic.patients.models import Channel, Patient, Purpose

# The very words that are shown beside each box, and kept as proof of what was chosen.
WORDINGS: dict[Purpose, StrPromise] = {
    Purpose.APPOINTMENT: _("Write to me about my appointments."),
    Purpose.SAFETY: _("Ask me how I am after a visit."),
    Purpose.RECALL: _("Tell me when my next check is due."),
    Purpose.COLOUR: _("Remind me in about a year about the colour of my teeth."),
}


_NO_NUMBER = _("We have no telephone number of yours. Choose another way, or call us and we write the number down.")
_CALL_FIRST: dict[Channel, StrPromise] = {
    Channel.EMAIL: _("We have no e-mail address of yours. Choose another way, or call us and we write it down."),
    Channel.TEXT: _NO_NUMBER,
    Channel.PHONE: _NO_NUMBER,
    Channel.LETTER: _("We have no postal address of yours. Choose another way, or call us and we write it down."),
}


def reachable(patient: Patient) -> dict[Channel, bool]:
    """By which ways the register has an address or number. The way that was chosen already may stay."""
    has = {
        Channel.EMAIL: bool(patient.email),
        Channel.TEXT: bool(patient.phone),
        Channel.PHONE: bool(patient.phone),
        Channel.LETTER: bool(patient.address),
    }
    return has | {Channel(patient.channel): True}


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

    def __init__(self, *args: Any, patient: Patient, chosen: Contact, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["channel"].initial = self.stands = patient.channel
        self.reachable, self.texts_ended = reachable(patient), chosen.texts_ended
        for purpose, wording in WORDINGS.items():
            self.fields[purpose.value] = forms.BooleanField(
                label=wording, required=False, initial=chosen.allowed[purpose]
            )

    def clean_channel(self) -> str:
        """A way that leads nowhere would only look as if we wrote; the address or number is given to the desk."""
        channel: str = self.cleaned_data["channel"]
        if not self.reachable[Channel(channel)]:
            raise forms.ValidationError(_CALL_FIRST[Channel(channel)])
        if channel == Channel.TEXT != self.stands and self.texts_ended:
            raise forms.ValidationError(_("You have ended texts. Allow them again first, or choose another way."))
        return channel

    def choices(self, purposes: Iterable[Purpose] = tuple(Purpose)) -> dict[Purpose, bool]:
        return {purpose: bool(self.cleaned_data[purpose.value]) for purpose in purposes}

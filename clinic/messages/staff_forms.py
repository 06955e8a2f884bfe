"""How staff see what a patient has chosen, and write it down on the patient's word."""

from collections.abc import Collection, Mapping
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrPromise

from clinic.messages.actions.choosing import state_of
from clinic.messages.forms import WORDINGS, reachable
from clinic.patients.contact import Contact
from clinic.patients.models import Channel, Patient, Purpose

ANY_WAY, EMAIL_ONLY, TEXT_ONLY, NOT_AT_ALL = "any", "email", "text", "no"
WAYS: dict[str, tuple[Channel, ...]] = {
    ANY_WAY: (Channel.EMAIL, Channel.TEXT),
    EMAIL_ONLY: (Channel.EMAIL,),
    TEXT_ONLY: (Channel.TEXT,),
    NOT_AT_ALL: (),
}
SAID: dict[str, StrPromise] = {
    ANY_WAY: _("yes"),
    EMAIL_ONLY: _("by e-mail only, no texts"),
    TEXT_ONLY: _("by text only, no e-mail"),
    NOT_AT_ALL: _("no"),
}
# How the patient said so; kept with the words of the choice.
HEARD: dict[str, StrPromise] = {
    "here": _("Here, in person"),
    "phone": _("On the telephone"),
    "written": _("In a letter or a message of theirs"),
}
_NO_NUMBER = _("There is no telephone number. Write it down first, or choose another way.")
_MISSING: dict[Channel, StrPromise] = {
    Channel.EMAIL: _("There is no e-mail address. Write it down first, or choose another way."),
    Channel.TEXT: _NO_NUMBER,
    Channel.PHONE: _NO_NUMBER,
    Channel.LETTER: _("There is no postal address. Write it down first, or choose another way."),
}


def held_way(chosen: Contact, purpose: Purpose) -> str:
    """Which of WAYS holds now; with every way refused it is not at all."""
    ways = chosen.ways(purpose)
    return next(code for code, meant in WAYS.items() if meant == ways)


def lines(chosen: Contact) -> list[tuple[StrPromise, StrPromise]]:
    """Each purpose, and in which ways we may write about it, in words."""
    return [(purpose.label, SAID[held_way(chosen, purpose)]) for purpose in Purpose]


class ContactForm(forms.Form):
    channel = forms.ChoiceField(label=_("Reach the patient by"), choices=Channel.choices, widget=forms.RadioSelect)
    heard = forms.ChoiceField(
        label=_("How did the patient say so?"),
        choices=list(HEARD.items()),
        widget=forms.RadioSelect,
        help_text=_("Kept as proof, with your name and the time."),
        error_messages={"required": _("Say how you know. Without the patient’s word nothing is changed.")},
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False, max_length=40)

    def __init__(self, *args: Any, patient: Patient, chosen: Contact, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True
        self.reachable = reachable(patient)
        self.fields["channel"].initial = patient.channel
        # Texts are offered where a gateway is set up; who has chosen them before keeps the choice.
        may_text = bool(settings.SMS_URL) or patient.channel == Channel.TEXT
        self.fields["channel"].choices = [one for one in Channel.choices if may_text or one[0] != Channel.TEXT]  # type: ignore[attr-defined]
        self.fields["seen"].initial = state_of(patient, chosen)
        for purpose in Purpose:
            self.fields[purpose.value] = forms.ChoiceField(
                label=_QUESTIONS[purpose], choices=list(SAID.items()), initial=held_way(chosen, purpose)
            )
        self.order_fields(["channel", *Purpose.values, "heard"])

    def clean_channel(self) -> str:
        channel: str = self.cleaned_data["channel"]
        if not self.reachable[Channel(channel)]:
            raise forms.ValidationError(_MISSING[Channel(channel)])
        return channel

    def ways(self) -> Mapping[Purpose, Collection[Channel]]:
        return {purpose: WAYS[self.cleaned_data[purpose.value]] for purpose in Purpose}

    def wordings(self) -> dict[Purpose, str]:
        """The words that the patient agreed to or refused, and how it was heard."""
        return {one: f"{wording} ({HEARD[self.cleaned_data['heard']]})" for one, wording in WORDINGS.items()}


_QUESTIONS: dict[Purpose, StrPromise] = {
    Purpose.APPOINTMENT: _("May we write about appointments?"),
    Purpose.SAFETY: _("May we ask how they are after a visit?"),
    Purpose.RECALL: _("May we write when the next check is due?"),
    Purpose.COLOUR: _("May we remind them in about a year about the colour of their teeth?"),
}

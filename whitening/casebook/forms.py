"""Forms of the case as a whole."""

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import NativeDate
from clinic.diary.forms import DATE_FORMATS
from whitening.cases.models import CloseReason


class OpenCaseForm(forms.Form):
    wishes = forms.CharField(
        label=_("In their words: what would they like to change?"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": _("Ask what they would like to change, and write it in their words.")},
    )
    expected_cycles = forms.IntegerField(
        label=_("Cycles to hold time for"),
        initial=4,
        min_value=1,
        max_value=6,
        help_text=_("The plan decides later. Four is usual: common practice, no source."),
    )


class PutOffForm(forms.Form):
    until = forms.DateField(
        label=_("Until"),
        input_formats=DATE_FORMATS,
        widget=NativeDate,
        error_messages={
            "required": _("Pick the day until which the case is put off."),
            "invalid": _("That is not a date. Write day, month and year: for example 3 3 2027."),
        },
        help_text=_("No whitening session before that day."),
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=300,
        help_text=_("Read by those who may read the answers; the desk reads the day."),
        error_messages={"required": _("Write why: whoever lifts it has to know.")},
    )
    version = forms.IntegerField(widget=forms.HiddenInput)


class LiftForm(forms.Form):
    """Which version of the case stood on the page that was sent."""

    version = forms.IntegerField()


class CloseCaseForm(forms.Form):
    reason = forms.ChoiceField(label=_("Why it closes"), choices=CloseReason.choices)
    words = forms.CharField(label=_("In a few words"), max_length=500, required=False)

"""Forms of the register. Each says what is wrong next to the field and keeps what was typed."""

from datetime import date
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import TypedDateField
from clinic.accounts.languages import is_spoken, name_of
from clinic.accounts.models import Site
from clinic.accounts.phones import TelephoneFormField
from clinic.accounts.text import LineField, LinesField
from clinic.patients.actions import Details
from clinic.patients.models import Channel, Patient
from clinic.patients.rules import Identity, LanguageGap, digits, has_a_letter

# Nobody alive is older; a year before it is a slip of the finger (common practice, no source).
EARLIEST_BIRTH = date(1900, 1, 1)


class PatientForm(forms.ModelForm[Patient]):
    """Registers or changes one patient of a site; telephone numbers are read as numbers of that site's country."""

    birth_on = TypedDateField(
        label=_("Date of birth"),
        earliest=EARLIEST_BIRTH,
        error_messages={
            "required": _("Ask for the date of birth."),
            "too_late": _("That date of birth lies in the future. Check the year."),
        },
    )
    phone = TelephoneFormField(
        label=_("Telephone"),
        required=False,
        help_text=_("Numbers of this country as people say them; others with + in front."),
        error_messages={
            "invalid": _(
                "That is not a telephone number of this country. "
                "For a foreign number begin with + and the country code."
            )
        },
    )
    language = forms.ChoiceField(label=_("Language they want"), choices=settings.LANGUAGES, initial="en")
    another_person = forms.BooleanField(label=_("It is somebody else: register a new patient"), required=False)
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = Patient
        fields = (
            "name",
            "preferred_name",
            "birth_on",
            "phone",
            "email",
            "address",
            "language",
            "needs_interpreter",
            "interpreter_language",
            "allergies",
            "own_dentist",
            "channel",
            "timezone",
        )
        field_classes = dict.fromkeys(
            ("name", "preferred_name", "interpreter_language", "allergies", "own_dentist"), LineField
        ) | {"address": LinesField}
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "address": forms.Textarea(attrs={"rows": 3, "autocomplete": "off"}),
        }
        help_texts = {
            "name": _("As in the passport, if they know it."),
            "allergies": _("Shown beside the chair. Leave empty when none were named."),
            "timezone": _("Only for somebody who lives elsewhere: messages then keep to the hours of that place."),
            "interpreter_language": _("Which language, and for sign language which one."),
        }
        error_messages = {
            "name": {
                "required": _("Ask for the name."),
                "max_length": _("Please shorten the name to %(limit_value)d characters; it has %(show_value)d."),
            },
            "email": {"invalid": _("That is not an e-mail address. It looks like name@example.org.")},
        }

    def __init__(self, *args: Any, site: Site, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.fields["birth_on"].latest = today  # type: ignore[attr-defined]
        self.fields["phone"].region = site.country  # type: ignore[attr-defined]
        zones = [("", _("As at the practice")), *((zone, zone) for zone in sorted(available_timezones()))]
        self.fields["timezone"].widget = forms.Select(choices=zones)
        self.fields["channel"].widget.choices = [one for one in Channel.choices if self._can_send(one[0])]

    def _can_send(self, channel: str) -> bool:
        """Texts are offered where a gateway is set up; who has chosen them before keeps the choice."""
        return channel != Channel.TEXT or bool(settings.SMS_URL) or self.instance.channel == channel

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if not has_a_letter(name):
            raise forms.ValidationError(_("Write the name in letters; any script will do."))
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self._needs(
            "channel", Channel.EMAIL, "email", _("They want e-mail: ask for the address, or choose another way.")
        )
        for channel in (Channel.TEXT, Channel.PHONE):
            self._needs(
                "channel", channel, "phone", _("Ask for a telephone number, or choose another way to reach them.")
            )
        self._needs("channel", Channel.LETTER, "address", _("They want letters: ask for the postal address."))
        if cleaned.get("needs_interpreter") and not cleaned.get("interpreter_language"):
            self.add_error("interpreter_language", _("Say which language the interpreter should speak."))
        return cleaned

    def details(self) -> Details:
        """The checked values as the action takes them."""
        data = {name: self.cleaned_data[name] for name in Details.__dataclass_fields__}
        phone = data["phone"]
        return Details(**data | {"phone": phone.as_e164 if phone else ""})

    def language_gap(self) -> LanguageGap | None:
        """About the language that is chosen at the moment, before anything is checked or saved."""
        language = str(self["language"].value() or "")
        if language not in dict(settings.LANGUAGES) or is_spoken(language):
            return None
        wanted = str(self["interpreter_language"].value() or "") if self["needs_interpreter"].value() else ""
        return LanguageGap(str(self["name"].value() or "").strip(), name_of(language), wanted.strip())

    def identity(self) -> Identity:
        """As much of who this is as has been typed so far; needs is_valid() to have been asked."""
        data = self.cleaned_data
        phone = data.get("phone")
        return Identity(
            data.get("name") or "",
            data.get("birth_on"),
            digits(phone.as_e164) if phone else "",
            data.get("email") or "",
        )

    def _needs(self, name: str, value: str, other: str, sentence: Any) -> None:
        data = self.cleaned_data
        if data.get(name) == value and not data.get(other) and other not in self.errors:
            self.add_error(other, sentence)

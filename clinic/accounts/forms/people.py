"""Forms about colleagues, for managers, and the form by which an invited person comes in."""

from typing import Any

from django import forms
from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from clinic.accounts import languages
from clinic.accounts.actions.invitations import NewPerson
from clinic.accounts.actions.people import PersonDetails
from clinic.accounts.fields import TypedDateField
from clinic.accounts.forms.own import PinField
from clinic.accounts.models import Profession, Role, Site, User
from clinic.accounts.phones import TelephoneFormField

_MISSPELT = _("That is not an e-mail address. It looks like name@example.org.")


class InviteForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120, error_messages={"required": _("Type the name.")})
    email = forms.EmailField(
        label=_("E-mail"),
        help_text=_("The link goes there. It should be read by this person alone."),
        error_messages={"required": _("Type the address that the link goes to."), "invalid": _MISSPELT},
    )
    role = forms.ChoiceField(
        label=_("Works here as"),
        choices=Role.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what the person works here as; more roles can follow.")},
    )


class JoinForm(forms.Form):
    name = forms.CharField(label=_("Your name"), max_length=120, error_messages={"required": _("Type your name.")})
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=_("At least 12 characters. Four or five words in a row are easy to remember."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("The same password once more"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    pin = PinField(label=_("PIN"), help_text=_("Four to eight digits. It opens the screen lock, nothing else."))
    language = forms.ChoiceField(label=_("Language of the pages"), choices=languages.choices)

    def __init__(self, *args: Any, email: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.email = email

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        password = data.get("password")
        if password and data.get("again") and password != data["again"]:
            self.add_error("again", _("The two passwords differ. Type the same one twice."))
        elif password:
            try:
                validate_password(password, User(email=self.email, name=data.get("name", "")))
            except forms.ValidationError as error:
                self.add_error("password", error)
        return data

    def person(self) -> NewPerson:
        data = self.cleaned_data
        return NewPerson(
            name=data["name"],
            password=data["password"],
            pin_hash=make_password(data["pin"]),
            language=data["language"],
        )


class PersonForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120)
    initials = forms.CharField(
        label=_("Initials"),
        max_length=4,
        help_text=_("Stand beside decisions."),
        widget=forms.TextInput({"class": "short"}),
    )
    roles = forms.MultipleChoiceField(
        label=_("Works here as"),
        choices=Role.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Leave at least one role. To end somebody's access, use the button below.")},
    )
    profession = forms.ChoiceField(label=_("Profession, as registered"), choices=Profession.choices)
    registration_number = forms.CharField(label=_("Registration number"), max_length=40, required=False)
    registration_expires_on = TypedDateField(label=_("Registration valid until"), required=False)
    indemnity_expires_on = TypedDateField(label=_("Indemnity valid until"), required=False)
    phone = TelephoneFormField(
        label=_("Telephone for texts while on call"),
        required=False,
        help_text=_("Only a worrying answer is told there, and only where texts are set up. Patients never see it."),
        error_messages={"invalid": _("That is not a telephone number. Begin with + and the country code.")},
    )
    may_examine_and_decide = forms.BooleanField(label=_("May examine and decide"), required=False)
    may_prescribe = forms.BooleanField(label=_("May prescribe"), required=False)
    may_carry_out = forms.BooleanField(label=_("May carry out whitening"), required=False)
    may_see_clinical_answers = forms.BooleanField(label=_("May see clinical answers"), required=False)

    @classmethod
    def of(cls, person: User, *, site: Site) -> "PersonForm":
        values = {name: getattr(person, name) for name in PersonDetails.__dataclass_fields__}
        return cls(initial=values | {"roles": [str(role) for role in person.roles_at(site)]})

    def details(self) -> PersonDetails:
        values = {name: self.cleaned_data[name] for name in PersonDetails.__dataclass_fields__}
        return PersonDetails(**values | {"phone": values["phone"].as_e164 if values["phone"] else ""})

    def chosen_roles(self) -> list[Role]:
        return [Role(role) for role in self.cleaned_data["roles"]]

"""One's own account, and the screen lock."""

from typing import Any

from django import forms
from django.core.validators import RegexValidator
from django.utils.translation import gettext_lazy as _

from clinic.accounts import languages
from clinic.accounts.models import User
from clinic.accounts.refusals import PinTooSimple
from clinic.accounts.rules import PIN_LENGTHS, is_simple_pin

_NO_PIN = _("A PIN has four to eight digits and nothing else.")


class PinField(forms.CharField):
    """Digits that the browser neither shows nor offers to keep."""

    default_validators = [RegexValidator(rf"^[0-9]{{{PIN_LENGTHS[0]},{PIN_LENGTHS[-1]}}}$", message=_NO_PIN)]

    def __init__(self, **options: Any) -> None:
        attrs = {"inputmode": "numeric", "autocomplete": "off", "class": "short", "maxlength": PIN_LENGTHS[-1]}
        super().__init__(widget=forms.PasswordInput(attrs=attrs), **options)

    def validate(self, value: str) -> None:
        super().validate(value)
        if value and is_simple_pin(value):
            raise forms.ValidationError(str(PinTooSimple()), code=PinTooSimple.code)


class PinForm(forms.Form):
    pin = PinField(label=_("New PIN"), help_text=_("Four to eight digits. It opens the screen lock, nothing else."))
    again = PinField(label=_("The same PIN once more"))
    password = forms.CharField(
        label=_("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if not self.user.check_password(password):
            raise forms.ValidationError(_("That is not your password. Type it once more."))
        return password

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("pin") and data.get("again") and data["pin"] != data["again"]:
            self.add_error("again", _("The two PINs differ. Type the same one twice."))
        return data


class LanguageForm(forms.Form):
    language = forms.ChoiceField(label=_("Language of the pages"), choices=languages.choices)


class UnlockForm(forms.Form):
    typed = forms.CharField(
        label=_("PIN or password"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "autofocus": True}),
        error_messages={"required": _("Type your PIN.")},
    )


class TakeOverForm(forms.Form):
    person = forms.IntegerField(widget=forms.HiddenInput)
    pin = forms.CharField(
        label=_("PIN"),
        max_length=PIN_LENGTHS[-1],
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric", "class": "short"}),
        error_messages={"required": _("Type your PIN.")},
    )

    @classmethod
    def about(cls, user: User, *, sent: "TakeOverForm | None" = None) -> "TakeOverForm":
        """One of several on a page, so its controls have ids of their own."""
        if sent is None or str(sent["person"].value()) != str(user.pk):
            return cls(initial={"person": user.pk}, auto_id=f"id_{user.pk}_%s")
        sent.auto_id = f"id_{user.pk}_%s"
        return sent

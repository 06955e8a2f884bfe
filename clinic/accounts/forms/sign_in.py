"""The sign-in library's forms, with our labels, and without words inside the boxes."""

from typing import Any, ClassVar

from allauth.account import forms as account
from allauth.mfa.base import forms as factor
from allauth.mfa.recovery_codes.forms import GenerateRecoveryCodesForm
from allauth.mfa.totp import forms as totp
from django.forms import BaseForm
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

Words = dict[str, StrOrPromise]
_PASSWORD = _("Password")
_NEW = _("New password")
_AGAIN = _("New password once more")
_LENGTH = _("At least 12 characters. Four or five words in a row are easy to remember.")
_CODE = _("Six digits from the authenticator app")
_OR_CODE = _("Or one of your recovery codes.")


class Plain(BaseForm):
    labels: ClassVar[Words] = {}
    hints: ClassVar[Words] = {}
    asks_for_digits: ClassVar[bool] = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if name in self.labels:
                field.label = self.labels[name]
            field.help_text = self.hints.get(name, "")
            field.widget.attrs.pop("placeholder", None)
            if self.asks_for_digits:
                field.widget.attrs["class"] = "short"


class SignInForm(Plain, account.LoginForm):  # type: ignore[misc]  # the library ships no types
    labels: ClassVar[Words] = {"login": _("E-mail"), "password": _PASSWORD}


class ForgottenForm(Plain, account.ResetPasswordForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"email": _("E-mail")}


class NewPasswordForm(Plain, account.ResetPasswordKeyForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"password1": _NEW, "password2": _AGAIN}
    hints: ClassVar[Words] = {"password1": _LENGTH}


class ChangePasswordForm(Plain, account.ChangePasswordForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"oldpassword": _("Password up to now"), "password1": _NEW, "password2": _AGAIN}
    hints: ClassVar[Words] = {"password1": _LENGTH}


class PasswordAgainForm(Plain, account.ReauthenticateForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"password": _PASSWORD}


class FactorForm(Plain, factor.AuthenticateForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"code": _CODE}
    hints: ClassVar[Words] = {"code": _OR_CODE}
    asks_for_digits = True


class FactorAgainForm(Plain, factor.ReauthenticateForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"code": _CODE}
    hints: ClassVar[Words] = {"code": _OR_CODE}
    asks_for_digits = True


class SetUpFactorForm(Plain, totp.ActivateTOTPForm):  # type: ignore[misc]  # as above
    labels: ClassVar[Words] = {"code": _CODE}
    asks_for_digits = True


class GiveUpFactorForm(Plain, totp.DeactivateTOTPForm):  # type: ignore[misc]  # as above
    pass


class NewCodesForm(Plain, GenerateRecoveryCodesForm):  # type: ignore[misc]  # as above
    pass

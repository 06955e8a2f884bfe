"""What a fresh installation must be told; asked on the command line, checked like any form."""

from typing import Any, Final

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from clinic.accounts import jurisdictions
from clinic.accounts.forms.sites import NewSiteForm
from clinic.accounts.models import User

# Everything else can follow on the Set-up pages, which say what is still missing.
OPTIONAL: Final = frozenset({"address", "phone", "email", "region", "on_call", "short_notice"})


class StartForm(NewSiteForm):
    practice = forms.CharField(label=_("Name of the practice"), max_length=120)
    manager_name = forms.CharField(label=_("Name of the first manager"), max_length=120)
    manager_email = forms.EmailField(label=_("E-mail of the first manager"))
    password = forms.CharField(label=_("Password of the first manager"), required=False, strip=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["on_call"]  # nobody works here yet
        known = ", ".join(jurisdictions.registered())
        sentence = _("Choose whose rules hold here: %(known)s.") % {"known": known}
        self.fields["jurisdiction"].error_messages |= {"required": sentence, "invalid_choice": sentence}

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if password:
            validate_password(password, User(email=self.cleaned_data.get("manager_email", "")))
        return password

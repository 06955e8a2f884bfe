from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.utils.translation import gettext_lazy as _

from clinic.accounts.verbs import VERBS
from clinic.trail import verbs


class AccountsConfig(AppConfig):
    name = "clinic.accounts"
    label = "clinic_accounts"
    verbose_name = _("Staff and sites")

    def ready(self) -> None:
        from allauth.mfa.signals import authenticator_added

        from clinic.accounts import sessions

        verbs.register(VERBS)
        user_logged_in.connect(sessions.begin, dispatch_uid="clinic_accounts.begin")
        authenticator_added.connect(sessions.factor_added, dispatch_uid="clinic_accounts.factor_added")

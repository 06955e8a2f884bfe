from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class AccountsConfig(AppConfig):
    name = "clinic.accounts"
    label = "clinic_accounts"
    verbose_name = _("Staff and sites")

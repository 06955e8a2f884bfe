from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class CasebookConfig(AppConfig):
    name = "whitening.casebook"
    label = "whitening_casebook"
    verbose_name = _("Casebook")

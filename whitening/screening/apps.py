from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ScreeningConfig(AppConfig):
    name = "whitening.screening"
    label = "whitening_screening"
    verbose_name = _("Screening")

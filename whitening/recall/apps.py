from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class RecallConfig(AppConfig):
    name = "whitening.recall"
    label = "whitening_recall"
    verbose_name = _("Recall")

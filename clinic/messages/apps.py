from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from clinic.messages import verbs


class MessagesConfig(AppConfig):
    name = "clinic.messages"
    label = "clinic_messages"
    verbose_name = _("Messages")

    def ready(self) -> None:
        from clinic.messages import own

        verbs.register()
        own.register()

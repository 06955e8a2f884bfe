from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


class DemoConfig(AppConfig):
    """Installed only where the demo setting is on: a mailbox instead of the world, and a clock that jumps."""

    name = "whitening.demo"
    label = "whitening_demo"
    verbose_name = _("Demo")

    def ready(self) -> None:
        from clinic.messages.channels import text
        from whitening.demo import texts

        text.add_gateway(texts.register)
        verbs.register({"demo.clock_moved": _("moved the demo's clock ahead")})

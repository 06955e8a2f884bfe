from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from clinic.accounts.verbs import VERBS
from clinic.trail import rewrapping, verbs


class AccountsConfig(AppConfig):
    name = "clinic.accounts"
    label = "clinic_accounts"
    verbose_name = _("Staff and sites")

    def ready(self) -> None:
        from clinic.accounts import factors, missing, receivers, setup_pages

        verbs.register(VERBS)
        for page in missing.PAGES:
            setup_pages.register(page)
        rewrapping.register("sign-in factors", factors.rewrap)
        receivers.connect()

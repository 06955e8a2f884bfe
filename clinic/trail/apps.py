from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate
from django.utils.translation import gettext_lazy as _

from clinic.trail import guards
from clinic.trail.checks import every_guard_stands


class TrailConfig(AppConfig):
    name = "clinic.trail"
    label = "clinic_trail"
    verbose_name = _("Trail")

    def ready(self) -> None:
        for table in ("trail_entry", "trail_seal", "access_entry", "clinic_trail_accessseal"):
            guards.register(table=table)
        checks.register(every_guard_stands, checks.Tags.database)
        # Sent for this app once, after the migrations of all apps: by then every guarded table exists.
        post_migrate.connect(_make_guards, sender=self, dispatch_uid="clinic_trail.guards")


def _make_guards(*, using: str, **_options: Any) -> None:
    guards.create(using)

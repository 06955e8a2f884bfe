"""Wraps everything with the newest key of CASEBOOK_FIELD_KEYS (docs/trail.md)."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.trail import rewrapping


class Command(BaseCommand):
    help = str(gettext_lazy("Wrap every key file and every encrypted column with the newest key of the settings."))

    def handle(self, *args: Any, **options: Any) -> None:
        params = {"files": rewrapping.rewrap_key_files(), "texts": rewrapping.rewrap_texts()}
        self.stdout.write(_("Key files wrapped anew: %(files)d. Encrypted texts: %(texts)d.") % params)

"""Seals everything and writes the head outside the database: what the worker does each hour."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.trail import clock, sealing


class Command(BaseCommand):
    help = str(gettext_lazy("Write the head of the trail into TRAIL_ANCHOR_DIR."))

    def handle(self, *args: Any, **options: Any) -> None:
        anchor = sealing.anchor_tick(clock.real_now())
        sentence = _("Head at position %(position)d written to %(folder)s")
        self.stdout.write(sentence % {"position": anchor.position, "folder": settings.TRAIL_ANCHOR_DIR})

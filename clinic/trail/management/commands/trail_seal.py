"""Chains what has been committed and brings waiting accesses in: what the worker does each minute."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.trail import clock, sealing


class Command(BaseCommand):
    help = str(gettext_lazy("Chain the entries of the trail that are not sealed yet."))

    def handle(self, *args: Any, **options: Any) -> None:
        sealed = sealing.seal_tick(clock.real_now())
        self.stdout.write(_("Entries sealed: %(count)d") % {"count": sealed})

"""Django's own migrate, allowed to run where guards are missing, since it is what makes them."""

from typing import Any

from django.core.management.commands import migrate

from clinic.trail.checks import guards_being_mended


class Command(migrate.Command):
    def check(self, *args: Any, **options: Any) -> None:
        with guards_being_mended():
            super().check(*args, **options)

"""Makes the fonts of the pages and of the documents from the installed packages. Run it before collectstatic."""

from typing import Any

from django.core.management.base import BaseCommand
from rich.console import Console

from clinic.documents import fonts


class Command(BaseCommand):
    help = "Cut the fonts for pages and documents from the installed packages; does nothing when they are up to date."
    # Runs in a fresh clone, before there is a database.
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        made = fonts.build()
        Console().print("Fonts made for pages and documents." if made else "Fonts are up to date.")

"""Says whether every kept file is still there and still what it was; any other answer ends with an error."""

from collections import Counter
from pathlib import Path
from typing import IO, Any, cast

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rich.console import Console

from clinic.documents.progress import progress
from clinic.documents.verifying import Checked, State, verified
from clinic.trail.backup import files


class Command(BaseCommand):
    help = str(gettext_lazy("Check every kept file against the SHA-256 that the database holds of it."))
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        console = Console(file=cast(IO[str], self.stdout), highlight=False, soft_wrap=True)
        total = sum(1 for _found in files.referenced("default"))
        counts: Counter[State] = Counter()
        read = 0
        with progress(console, total, title=_("Kept files")) as advance:
            for checked in verified(files.referenced("default"), folder=Path(settings.FILES_DIR)):
                counts[checked.state] += 1
                read += checked.bytes_read
                if checked.state is not State.GENUINE:
                    console.print(_line(checked), style="red", markup=False)
                advance(counts.total())
        console.print(_said(counts, read), markup=False)
        if counts.total() != counts[State.GENUINE]:
            raise CommandError(_("Not all kept files are as they were. Bring them back from a backup: docs/backup.md"))
        console.print(_("✓ All kept files are as they were."), style="green")


def _line(checked: Checked) -> str:
    words = f"✗ {checked.state.label}: {checked.path}"
    return f"{words} ({checked.why})" if checked.why else words


def _said(counts: Counter[State], read: int) -> str:
    sentence = _(
        "Files checked: %(count)d (%(megabytes).1f MB). Genuine %(genuine)d, altered %(altered)d, "
        "missing %(missing)d, cannot be read %(unreadable)d."
    )
    numbers: dict[str, float] = {str(state): counts[state] for state in State}
    return sentence % {"count": counts.total(), "megabytes": read / 1_000_000, **numbers}

"""Says whether the trail still holds; any finding ends the command with an error."""

from argparse import ArgumentParser
from pathlib import Path
from typing import IO, Any, cast

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rich.console import Console
from rich.table import Table

from clinic.trail.report import Report
from clinic.trail.values_check import ValuesReport, check_values
from clinic.trail.verify import verify


class Command(BaseCommand):
    help = str(gettext_lazy("Check the trail against its seals and against the heads kept outside."))
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--anchors", type=Path, default=Path(settings.TRAIL_ANCHOR_DIR), metavar="DIR")
        parser.add_argument("--values", action="store_true", help=_("also open every value whose key is there"))

        parser.add_argument(
            "--allow-unknown-keys",
            action="store_true",
            help=_("count entries written with a key that was taken out of the settings, instead of reporting them"),
        )

    def handle(self, *args: Any, **options: Any) -> None:
        console = Console(file=cast(IO[str], self.stdout), highlight=False, soft_wrap=True)
        report = verify(anchor_dir=options["anchors"], allow_unknown_keys=options["allow_unknown_keys"])
        values = check_values(report.findings) if options["values"] else None
        console.print(_table(report, values))
        for note in _unprovable(report):
            console.print(f"• {note}", markup=False)
        for finding in report.findings.kept:
            console.print(f"✗ {finding}", style="red", markup=False)
        if not report.holds:
            raise CommandError(_("The trail does not hold. Findings: %(count)d") % {"count": report.findings.count})
        console.print(_("✓ The trail holds."), style="green")


def _table(report: Report, values: ValuesReport | None) -> Table:
    table = Table(title=_("Trail"), show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_row(_("Entries sealed"), str(report.sealed))
    table.add_row(_("Entries not sealed yet"), str(report.unsealed))
    table.add_row(_("Head"), report.head[1][:16])
    table.add_row(_("Outside heads compared"), str(report.anchor_count))
    table.add_row(_("Accesses sealed"), str(report.accesses_sealed))
    table.add_row(_("Accesses not sealed yet"), str(report.accesses_unsealed))
    if values is not None:
        table.add_row(_("Values opened"), str(values.opened))
        table.add_row(_("Values erased"), str(values.erased))
        table.add_row(_("Values whose key is missing"), str(values.key_missing))
    return table


def _unprovable(report: Report) -> list[str]:
    """What this check cannot know, in plain words."""
    said = []
    if report.last_anchor is None:
        said.append(_("No head is kept outside: that the whole trail was rewritten or cut cannot be ruled out."))
    elif report.after_anchor > 0:
        sentence = _("Sealed after the last outside head (%(at)s), so a rewrite or cut there is unprovable: %(count)d")
        said.append(sentence % {"at": report.last_anchor.at, "count": report.after_anchor})
    if report.unsealed:
        said.append(_("Not sealed yet, so a removal there is unprovable: %(count)d") % {"count": report.unsealed})
    if report.accesses_unsealed:
        sentence = _("Accesses not sealed yet, so a change there is unprovable: %(count)d")
        said.append(sentence % {"count": report.accesses_unsealed})
    if report.unknown_keys:
        sentence = _("Written with a key that the settings no longer hold, checked by the chain alone: %(count)d")
        said.append(sentence % {"count": report.unknown_keys})
    if report.unreadable_anchor_lines:
        lines = ", ".join(str(number) for number in report.unreadable_anchor_lines)
        said.append(_("Lines of the file of heads that cannot be read: %(lines)s") % {"lines": lines})
    return said

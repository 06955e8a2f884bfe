"""Proves that an archive can be restored, or restores it into an empty place."""

from argparse import ArgumentParser
from pathlib import Path
from typing import IO, Any, cast

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rich.console import Console
from rich.table import Table
from rich.text import Text

from clinic.trail.backup import restoring
from clinic.trail.backup.engines import TargetNotEmpty
from clinic.trail.backup.restoring import Verdict


class Command(BaseCommand):
    help = str(gettext_lazy("Check that a backup can be restored (--check), or restore it (--into)."))
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        sentence = _("with --check: when left out, the newest in CASEBOOK_BACKUP_DIR")
        parser.add_argument("archive", type=Path, nargs="?", help=sentence)
        aim = parser.add_mutually_exclusive_group(required=True)
        aim.add_argument("--check", action="store_true", help=_("restore into a passing database and look at it"))
        aim.add_argument("--into", type=Path, metavar="DIR", help=_("an empty folder for the files"))
        parser.add_argument("--database", default="", metavar="NAME", help=_("PostgreSQL: an empty or new database"))

    def handle(self, *args: Any, **options: Any) -> None:
        if options["check"]:
            verdict = restoring.check(options["archive"] or self._newest())
        elif options["archive"] is None:
            raise CommandError(_("Name the archive to restore. Nothing was written."))
        else:
            verdict = self._restore(options["archive"], into=options["into"].absolute(), database=options["database"])
        Console(file=cast(IO[str], self.stdout), highlight=False, soft_wrap=True).print(_table(verdict))
        if not verdict.is_good:
            raise CommandError(_not_good(options["into"]))
        self.stdout.write(_("Good: all of it was restored and compared."))
        if options["into"]:
            self._tell_next(options["into"].absolute())

    def _newest(self) -> Path:
        """By name: it begins with the moment of making, and a copy may have lost the file's own date."""
        made = sorted(Path(settings.BACKUP_DIR).glob("*.backup"))
        if not made:
            raise CommandError(_("There is no backup in %(folder)s.") % {"folder": settings.BACKUP_DIR})
        self.stdout.write(_("The newest archive: %(path)s") % {"path": made[-1]})
        return made[-1]

    def _restore(self, archive: Path, *, into: Path, database: str) -> Verdict:
        if connection.vendor == "postgresql" and not database:
            raise CommandError(_("Name an empty or new database: --database NAME"))
        try:
            return restoring.restore(archive, into=into, database=database)
        except TargetNotEmpty as error:
            raise CommandError(_("%(error)s Nothing was written.") % {"error": error}) from error

    def _tell_next(self, into: Path) -> None:
        self.stdout.write(_("Now set CASEBOOK_DATABASE_URL to the restored database, and:"))
        self.stdout.write(f"CASEBOOK_FILES_DIR={into / 'files'}")
        self.stdout.write(f"CASEBOOK_TRAIL_ANCHOR_DIR={into / 'anchors'}")
        if connection.vendor == "postgresql":
            self.stdout.write(_("Then run, as the owner: manage.py migrate, and manage.py grant_app_role … --apply"))
        else:
            self.stdout.write(_("Then run: manage.py migrate"))


def _not_good(into: Path | None) -> str:
    if into is None:
        return _("Not good: this backup cannot be relied on.")
    return _("Not good: do not work with what lies in %(into)s. Empty it before the next try.") % {"into": into}


def _table(verdict: Verdict) -> Table:
    table = Table(title=_("Restored copy"), show_header=False)
    table.add_column(no_wrap=True)
    table.add_column()
    for check in verdict.checks:
        mark, style = ("✓", "green") if check.holds else ("✗", "red")
        table.add_row(Text(f"{mark} {check.what}"), Text(check.said), style=style)
    return table

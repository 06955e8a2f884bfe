"""Makes one encrypted archive of the database, the files and the heads of the trail."""

import sqlite3
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

import psycopg
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.trail import clock
from clinic.trail.backup.making import Made, make
from clinic.trail.backup.programs import ProgramFailed


class Command(BaseCommand):
    help = str(gettext_lazy("Make an encrypted backup of the database and its files, without the keys."))

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", type=Path, default=Path(settings.BACKUP_DIR), metavar="DIR")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = make(target=options["to"], now=clock.real_now())
        except (DatabaseError, OSError, ProgramFailed, psycopg.Error, sqlite3.Error) as error:
            raise CommandError(_("No backup was made: %(error)s") % {"error": error}) from error
        self._tell(made)
        if made.lacking:
            sentence = _("The archive was made, but files that the database refers to are lacking: %(names)s")
            raise CommandError(sentence % {"names": ", ".join(made.lacking[:5])})

    def _tell(self, made: Made) -> None:
        facts = made.manifest.facts
        sentence = _("%(path)s: tables %(tables)d, rows %(rows)d, files %(files)d, head of the trail %(position)d")
        params = {
            "path": made.path,
            "tables": len(facts.row_counts),
            "rows": sum(facts.row_counts.values()),
            "files": sum(1 for name in made.manifest.sha256 if name.startswith("files/")),
            "position": facts.head_position,
        }
        self.stdout.write(sentence % params)
        self.stdout.write(_("The keys are not inside. Keep CASEBOOK_FIELD_KEYS and KEYS_DIR apart from this archive."))

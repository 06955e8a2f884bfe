"""Prints, or applies as the owner, what the app's PostgreSQL role may do (docs/database-roles.md)."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.trail import roles


class Command(BaseCommand):
    help = str(gettext_lazy("Give the app's PostgreSQL role its rights; guarded tables only grow for it."))

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("role")
        parser.add_argument("--apply", action="store_true", help=_("run the statements instead of printing them"))

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError(_("SQLite has no roles. This command is for PostgreSQL."))
        statements = list(roles.statements(options["role"], connection))
        if not options["apply"]:
            for statement in statements:
                self.stdout.write(f"{statement};")
            return
        with transaction.atomic(), connection.cursor() as cursor:
            for statement in statements:
                cursor.execute(statement)
        sentence = _("%(role)s may now do what the app needs. Statements run: %(count)d")
        self.stdout.write(sentence % {"role": options["role"], "count": len(statements)})

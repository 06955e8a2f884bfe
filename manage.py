#!/usr/bin/env python
"""Command line of the casebook."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line
from django.db import OperationalError, ProgrammingError


def main() -> None:
    """A bad setting, or a database that does not answer or refuses the role, is told in a sentence."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.config.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        if "--traceback" in sys.argv:
            raise
        sys.exit(str(error))
    except (OperationalError, ProgrammingError) as error:
        if "--traceback" in sys.argv:
            raise
        sys.exit(f"The database says: {str(error).strip()}\nWith --traceback the command shows where.")


if __name__ == "__main__":
    main()

#!/usr/bin/env python
"""Command line of the casebook."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import os
import sys

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.config.settings")
    execute_from_command_line(sys.argv)

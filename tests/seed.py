"""Fills a world's empty database with the cast: `python -m tests.seed`, in that world's environment."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import django

django.setup()

from tests.cast import open_practice  # noqa: E402  (tables exist only once Django is set up)

if __name__ == "__main__":
    open_practice()

"""Makes a world habitable: tables, static files, and the people a seed brings. One process does it all.

`python -m tests.furnish [SEED]`, in that world's environment; SEED is a module with a function `fill`.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import sys
from importlib import import_module
from pathlib import Path

import django
from django.conf import settings
from django.core.management import call_command


def main() -> None:
    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    call_command("createcachetable", verbosity=0)
    # Worlds of one run share their static files: they depend on nothing that a test changes.
    if not any(Path(settings.STATIC_ROOT).iterdir()):
        call_command("build_fonts", verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
    for seed in sys.argv[1:]:
        import_module(seed).fill()


if __name__ == "__main__":
    main()

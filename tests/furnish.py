"""Lets a seed bring its people into a world's empty database, in that world's environment.

`python -m tests.furnish SEED`; SEED is a module with a function `fill`.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import sys
from importlib import import_module

import django


def main() -> None:
    django.setup()
    import_module(sys.argv[1]).fill()


if __name__ == "__main__":
    main()

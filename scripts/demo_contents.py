"""Fills the demo's folder: tables, fonts, static files and, once, the invented practice.

One process does it all, because starting Django is most of what each command costs.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import hashlib
import io
import json
from importlib import import_module
from pathlib import Path

import django
from django.conf import settings
from django.core.management import call_command

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    django.setup()
    var_dir = Path(settings.VAR_DIR)
    loaded = var_dir / "loaded"
    if not loaded.exists():
        # A load that was interrupted is no practice; it starts again from nothing.
        for path in var_dir.glob("casebook.sqlite3*"):
            path.unlink()
    quietly("migrate", interactive=False)
    quietly("createcachetable")
    build_static(stamp=var_dir / "static.stamp")
    if not loaded.exists():
        print("Loading the invented practice: three months of cases, two weeks ahead.", flush=True)
        quietly("load_demo")
        write_sign_ins(var_dir / "sign-ins.json")
        loaded.touch()


def write_sign_ins(path: Path) -> None:
    """For the welcome and for the check: one line for each person of the invented staff."""
    # A name by text: only with the demo switched on is that package part of the program.
    people = import_module("whitening.demo.world.people")
    rows = [
        {
            "role": str(one.roles[0]),
            "name": one.name,
            "email": one.email,
            "password": people.PASSWORD,
            "pin": people.PIN,
        }
        for one in people.STAFF
    ]
    path.write_text(json.dumps(rows, indent=1))


def quietly(command: str, **options: object) -> None:
    call_command(command, verbosity=0, stdout=io.StringIO(), **options)


def build_static(*, stamp: Path) -> None:
    """Fonts and static files, again only when a source or the lock has changed."""
    sources = [ROOT / "requirements.txt", *sorted(path for path in (ROOT / "static").rglob("*") if path.is_file())]
    digest = hashlib.sha256()
    for path in sources:
        if "fonts" not in path.parts:
            digest.update(str(path.relative_to(ROOT)).encode() + path.read_bytes())
    if stamp.exists() and stamp.read_text() == digest.hexdigest() and any(Path(settings.STATIC_ROOT).iterdir()):
        return
    quietly("build_fonts")
    quietly("collectstatic", interactive=False, clear=True)
    stamp.write_text(digest.hexdigest())


if __name__ == "__main__":
    main()

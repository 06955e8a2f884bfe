"""Fills the demo's folder: tables, fonts, static files and, once, the invented practice.

One process does it all, because starting Django is most of what each command costs.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import hashlib
import io
import re
from dataclasses import dataclass
from pathlib import Path

import django
from django.conf import settings
from django.core.management import call_command

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class SignIn:
    email: str
    password: str


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
        with (var_dir / "sign-ins.txt").open("w") as sign_ins:
            call_command("load_demo", stdout=sign_ins)
        loaded.touch()


def sign_ins(home: Path) -> dict[str, SignIn]:
    """Who may sign in to the demo, by role, as `load_demo` has printed it: role, address, password."""
    found = re.findall(r"^\s*(\w+)\b.*?(\S+@\S+)\s+(\S.*?)\s*$", (home / "sign-ins.txt").read_text(), re.MULTILINE)
    return {role.lower(): SignIn(email, password) for role, email, password in reversed(found)}


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

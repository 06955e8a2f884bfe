"""Everything that can be judged without running the program: `make lint`. All steps run, then it fails."""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests import environment

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
TYPED = ("clinic", "whitening", "tests", "benchmarks", "scripts", "manage.py")


def tool(name: str) -> str:
    """A program of the same virtual environment, whether it is activated or not."""
    return str(Path(PYTHON).parent / name)


def tracked(*patterns: str) -> list[str]:
    listing = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *patterns]
    names = subprocess.run(listing, check=True, capture_output=True, text=True, cwd=ROOT).stdout.splitlines()
    return [name for name in names if (ROOT / name).is_file()]


def steps() -> dict[str, list[str]]:
    templates = tracked("templates/*.html", "*/templates/*.html")
    catalogues = tracked("locale/*.po")
    manage = [PYTHON, "manage.py"]
    chosen = {
        "style": [tool("ruff"), "check", "."],
        "format": [tool("ruff"), "format", "--check", "."],
        "house rules": [PYTHON, "-m", "scripts.house"],
        "arrows": [tool("lint-imports"), "--no-logo"],
        # As a module, so that our own `tests` comes before that of an installed package (textstat brings one).
        "types": [PYTHON, "-m", "mypy", *(name for name in TYPED if (ROOT / name).exists())],
        "migrations": [*manage, "makemigrations", "--check", "--dry-run"],
        "deployment": [*manage, "check", "--deploy", "--fail-level", "WARNING"],
    }
    if templates:
        chosen["templates"] = [tool("djade"), "--target-version", "5.2", "--check", *templates]
    if tracked("locale/django.pot"):
        chosen["sentences"] = [PYTHON, "-m", "scripts.catalogues"]
    for name in catalogues:
        chosen[name] = ["msgfmt", "--check", "--output-file", os.devnull, name]
    return chosen


def production(var_dir: Path) -> dict[str, str]:
    """The environment of a real installation, so that `check --deploy` judges what a practice would run."""
    values = environment.values(var_dir=var_dir, database_url=environment.sqlite_url(var_dir))
    values |= {
        "CASEBOOK_PLAIN_HTTP": "0",
        "CASEBOOK_HOSTS": "casebook.example.org",
        "CASEBOOK_SECRET_KEY": "".join(chr(33 + number) for number in range(60)),
        "CASEBOOK_PROXY_COUNT": "1",
    }
    return {**os.environ, **values}


def run(name: str, command: list[str], *, env: dict[str, str]) -> bool:
    started = time.monotonic()
    done = subprocess.run(command, check=False, capture_output=True, text=True, cwd=ROOT, env=env)
    print(f"{'ok  ' if done.returncode == 0 else 'FAIL'} {name} ({time.monotonic() - started:.1f} s)", flush=True)
    if done.returncode != 0:
        print(done.stdout + done.stderr, flush=True)
    return done.returncode == 0


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="casebook-lint-") as folder:
        env = production(Path(folder))
        # Only with the demo switched on are the demo's own tables among the checked ones.
        special = {"migrations": env | {"CASEBOOK_DEMO": "1"}}
        results = [run(name, command, env=special.get(name, env)) for name, command in steps().items()]
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())

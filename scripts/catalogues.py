"""Says which sentences of the program the translators' template lacks: `python -m scripts.catalogues`.

A catalogue is judged by its template, so a template that has grown old would call a gap complete.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from clinic.accounts.languages import TEMPLATE, Sentence, sentences
from tests import environment

ROOT = Path(__file__).resolve().parent.parent
SPEAKING = ("clinic", "whitening", "templates", "manage.py")
# Any language will do: only the template is looked at.
EXTRACT = ["makemessages", "--locale", "es", "--keep-pot"]


def extracted() -> set[Sentence]:
    """By the extractor of gettext, from a copy: it writes beside what it reads."""
    with tempfile.TemporaryDirectory(prefix="casebook-words-") as folder:
        copy = Path(folder)
        for name in SPEAKING:
            source = ROOT / name
            (shutil.copytree if source.is_dir() else shutil.copy)(source, copy / name)
        values = environment.values(var_dir=copy / "var", database_url=environment.sqlite_url(copy), demo=True)
        command = [sys.executable, "manage.py", *EXTRACT]
        subprocess.run(command, check=True, capture_output=True, cwd=copy, env={**os.environ, **values})
        return set(sentences((copy / "locale" / TEMPLATE).read_text(encoding="utf-8")))


def lacking(template: str) -> set[Sentence]:
    return extracted() - set(sentences(template))


def main() -> int:
    found = lacking((ROOT / "locale" / TEMPLATE).read_text(encoding="utf-8"))
    for sentence in sorted(found, key=lambda each: each.text):
        print(f"locale/{TEMPLATE} lacks: {sentence.text}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())

"""What a test has done in another process, on an installation of its own (see installation.py)."""

import hashlib
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.core.management import execute_from_command_line
from django.db import transaction

from clinic.trail import clock, sealing, verbs
from clinic.trail.actor import SYSTEM
from clinic.trail.backup import files
from clinic.trail.models import TrailEntry
from clinic.trail.record import record

KIND = "test file"


def file_path(digest: str) -> str:
    return f"{digest[:2]}/{digest}.bin"


def look_up(using: str) -> Iterator[tuple[str, str]]:
    digests = TrailEntry.objects.using(using).filter(subject_kind=KIND).values_list("subject_id", flat=True)
    return ((digest, file_path(digest)) for digest in digests)


def write(number: int) -> None:
    """A stored file, then the entry that refers to it: the order that every part keeps."""
    content = f"file {number} of {sys.argv}".encode()
    digest = hashlib.sha256(content).hexdigest()
    path = Path(settings.FILES_DIR) / file_path(digest)
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content)
    with transaction.atomic():
        record(
            verb="tests.noted",
            actor=SYSTEM,
            subject=(KIND, digest),
            patient_id=number % 7 + 1,
            site_id=1,
            values={"number": number},
        )


def write_until_stopped(report: Path) -> None:
    """Tells the number of committed entries, so that a test knows what a backup must hold at least."""
    number = 0
    while True:
        number += 1
        write(number)
        report.write_text(str(number))
        # Far more than any practice writes, and still some room for those that are tested.
        time.sleep(0.02)


def seal_until_stopped() -> None:
    while True:
        sealing.seal(clock.real_now())


def main(what: str, *rest: str) -> None:
    verbs.register({"tests.noted": "noted something"})
    files.register("tests", look_up)
    if what == "write":
        for number in range(int(rest[0])):
            write(number)
    elif what == "write until stopped":
        write_until_stopped(Path(rest[0]))
    elif what == "seal until stopped":
        seal_until_stopped()
    else:
        execute_from_command_line(["manage.py", what, *rest])


if __name__ == "__main__":
    main(*sys.argv[1:])

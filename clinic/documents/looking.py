"""What a handed-over file really is. Run as a process of its own: what strangers send is not read by the web process.

`python -m clinic.documents.looking` reads the file from its standard input and says one line of JSON.
"""

import json
import resource
import sys
import warnings
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from io import BytesIO
from typing import Any

PAGES_MOST = 60
PIXELS_MOST = 50_000_000
MEMORY_BYTES = 768 * 1024 * 1024
CPU_S = 15
_ACTIVE = {"/JavaScript", "/Launch", "/ImportData", "/SubmitForm", "/RichMediaExecute"}


class Refused(Exception):
    """The one word says why: kind, broken, pages, pixels, locked, active."""


@dataclass(frozen=True, slots=True)
class Looked:
    media_type: str
    pages: int


def look(content: bytes) -> Looked:
    """By what is in it, whatever it is called. Raises Refused."""
    if content.startswith(b"%PDF-"):
        return Looked("application/pdf", _pages(content))
    for start, name, media_type in (
        (b"\xff\xd8\xff", "JPEG", "image/jpeg"),
        (b"\x89PNG\r\n\x1a\n", "PNG", "image/png"),
    ):
        if content.startswith(start):
            _picture(content, name)
            return Looked(media_type, 1)
    raise Refused("kind")


def _picture(content: bytes, name: str) -> None:
    """Read to its last point: a file that begins like a picture is not one yet."""
    from PIL import Image  # noqa: PLC0415  (only in the process that looks, and only for a picture)

    Image.MAX_IMAGE_PIXELS = None
    try:
        with Image.open(BytesIO(content), formats=[name]) as picture:
            if picture.width * picture.height > PIXELS_MOST:
                raise Refused("pixels")
            picture.load()
    except (OSError, ValueError, SyntaxError, EOFError, IndexError) as error:
        raise Refused("broken") from error


def _pages(content: bytes) -> int:
    from pypdf import PdfReader  # noqa: PLC0415  (only in the process that looks, and only for a PDF)
    from pypdf.errors import PyPdfError  # noqa: PLC0415

    try:
        reader = PdfReader(BytesIO(content))
        if reader.is_encrypted:
            raise Refused("locked")
        pages = len(reader.pages)
        if pages > PAGES_MOST:
            raise Refused("pages")
        if any(kind in _ACTIVE for kind in _actions(reader)) or _holds_files(reader):
            raise Refused("active")
    except (PyPdfError, ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError) as error:
        raise Refused("broken") from error
    if not pages:
        raise Refused("broken")
    return pages


def _actions(reader: Any) -> Iterator[str]:
    """The kinds of what the file would have a reader do when it is opened, turned over or pressed."""
    root = reader.root_object
    if "/JavaScript" in _inside(root, "/Names"):
        yield "/JavaScript"
    holders = [root, *reader.pages]
    for page in reader.pages:
        holders += [note.get_object() for note in (page.get("/Annots") or [])]
    for holder in holders:
        for action in (holder.get("/OpenAction"), holder.get("/A"), *_inside(holder, "/AA").values()):
            found = action.get_object() if action is not None else None
            if isinstance(found, dict):
                yield str(found.get("/S"))


def _holds_files(reader: Any) -> bool:
    return "/EmbeddedFiles" in _inside(reader.root_object, "/Names")


def _inside(holder: Any, name: str) -> dict[str, Any]:
    found = holder.get(name)
    held = found.get_object() if found is not None else {}
    return held if isinstance(held, dict) else {}


def _bounded() -> None:
    for what, most in (
        (resource.RLIMIT_AS, MEMORY_BYTES),
        (resource.RLIMIT_CPU, CPU_S),
        (resource.RLIMIT_CORE, 0),
        # It has nothing to write but its answer, which is a pipe.
        (resource.RLIMIT_FSIZE, 0),
    ):
        resource.setrlimit(what, (most, most))


def main() -> None:
    _bounded()
    # What the libraries think of a scanner's files is nothing for our log.
    warnings.simplefilter("ignore")
    try:
        answer = asdict(look(sys.stdin.buffer.read()))
    except (Refused, MemoryError) as refused:
        answer = {"refused": str(refused) if isinstance(refused, Refused) else "pixels"}
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()

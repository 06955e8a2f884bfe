"""What goes to the renderer and what comes back. Read by both processes: standard library only."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    html: str
    title: str
    language: str
    # ltr or rtl.
    direction: str
    # a4 or us-letter.
    paper: str
    # ISO 8601, with zone: the file says when it was made, and the same sheet is the same file.
    made_at: str
    # Goes into the file's identifier, which survives most later edits by other programs.
    identifier: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    pdf: bytes
    pages: int
    # Characters that no bundled font can draw; each stands on the sheet as a replacement mark.
    undrawn: str

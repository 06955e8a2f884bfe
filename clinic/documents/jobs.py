"""What goes to the renderer and what comes back. Read by both processes: standard library only."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    html: str
    css: str
    title: str
    language: str
    # Goes into the file's identifier, which survives most later edits by other programs.
    identifier: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    pdf: bytes
    pages: int
    # Characters that no bundled font can draw; each stands on the sheet as a replacement mark.
    undrawn: str

"""The marks of the whole program: a shape and a word, so that no meaning hangs on a colour."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, kw_only=True)
class Mark:
    shape: str
    word: str | Promise


READY = Mark(shape="ready", word=_("Ready"))
UNKNOWN = Mark(shape="unknown", word=_("Not known yet"))

MARKS = {
    "ready": READY,
    "missing": Mark(shape="missing", word=_("Missing")),
    "not-yet": Mark(shape="missing", word=_("Not yet")),
    "must-not": Mark(shape="must-not", word=_("Must not")),
    "care": Mark(shape="care", word=_("With care")),
    "cleared": Mark(shape="cleared", word=_("Cleared by decision")),
    "overdue": Mark(shape="overdue", word=_("Overdue")),
    "not-needed": Mark(shape="not-needed", word=_("Not needed")),
    "note": Mark(shape="note", word=_("Note")),
    "unknown": UNKNOWN,
}

# What stands before a message on top of a page, by the level it was given.
LEVEL_SHAPES = {"success": "ready", "info": "note", "warning": "care", "error": "must-not", "debug": "note"}

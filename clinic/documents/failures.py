"""Why a document could not be made or is not what it was."""

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal


class RenderFailed(Refusal):
    """`reason` is one word: time, memory, pages, size, blocked, nesting, glyphs, incomplete, ended, busy."""

    code = "render_failed"
    sentence = _(
        "The document could not be made (%(reason)s). Nothing was saved. Try once more; if it fails again, "
        "tell whoever looks after this installation."
    )

    def __init__(self, reason: str) -> None:
        super().__init__(reason=reason)
        self.reason = reason


class FileLost(Refusal):
    code = "document_file_lost"
    sentence = _(
        "The file of this document is not where it was kept. Tell whoever looks after this installation: "
        "it has to be brought back from a backup."
    )


class FileAltered(Refusal):
    code = "document_file_altered"
    sentence = _(
        "The file of this document is no longer what was issued, so it is not shown. Tell whoever looks after "
        "this installation: it has to be brought back from a backup."
    )


class TooManyChecks(Refusal):
    code = "too_many_checks"
    sentence = _(
        "Too many documents were checked from here in the last minutes. Wait %(minutes)s minutes and try again."
    )

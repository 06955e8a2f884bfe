"""Why a document could not be made or is not what it was."""

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal


class RenderFailed(Refusal):
    """`reason` is one word: time, memory, pages, size, blocked, nesting, incomplete, ended, busy, fonts."""

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


class NotAPaper(Refusal):
    """`reason` is one word: kind, broken, pages, pixels, locked, active, size, empty."""

    code = "not_a_paper"
    sentence = _("%(why)s")

    def __init__(self, reason: str) -> None:
        super().__init__(why=NOT_A_PAPER[reason])
        self.reason = reason


NOT_A_PAPER = {
    "kind": _("This file is no PDF, JPEG or PNG, whatever its name says. Scan the paper into one of these."),
    "broken": _("This file cannot be read to its end. Scan the paper once more, and choose the new file."),
    "pages": _("This file has more than 60 pages. Choose the pages that matter, and file them alone."),
    "pixels": _("This picture is too large to be looked at safely. Scan the paper again, at 300 dots per inch."),
    "locked": _("This PDF is locked with a password. Ask the sender for one without, or print and scan it."),
    "active": _("This PDF carries a script, a command or another file. Print it, scan the print, and file that."),
    "size": _("This file is larger than 25 MB. Scan the paper again in black and white, at 300 dots per inch."),
    "empty": _("This file is empty. Choose the scan of the paper."),
}


class FiledAlready(Refusal):
    code = "filed_already"
    sentence = _("This very file is filed for this patient already, on %(day)s. It need not be filed twice.")


class TooManyChecks(Refusal):
    code = "too_many_checks"
    sentence = _(
        "Too many documents were checked from here in the last minutes. Wait %(minutes)s minutes and try again."
    )

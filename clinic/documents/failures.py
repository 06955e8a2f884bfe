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

"""What every failed precondition is: a named exception with a code and a sentence for the reader."""

from typing import ClassVar

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Refusal(Exception):
    """An action that was not done, and nothing was written.

    A subclass stands beside the function that raises it. Its sentence says what is wrong and what to
    do next, with `%(name)s` for each parameter.
    """

    code: ClassVar[str] = "refused"
    sentence: ClassVar[str | Promise] = _("This cannot be done now. Reload the page and look again.")

    def __init__(self, **params: object) -> None:
        super().__init__(self.code)
        self.params = params

    def __str__(self) -> str:
        # Formatted only where there is something to fill in: a plain sentence may hold a percent sign.
        return str(self.sentence) % self.params if self.params else str(self.sentence)

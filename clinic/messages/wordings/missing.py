"""The page on Set-up, and what is wrong with a practice's own words of its messages."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from clinic.accounts.languages import name_of
from clinic.accounts.models import Site
from clinic.accounts.setup_pages import SetupPage
from clinic.messages.wordings.faults import Fault
from clinic.messages.wordings.showing import unfit_rows


def of_words(_site: Site) -> list[str]:
    """The words are the whole practice's."""
    sentence = _("“%(message)s” (%(way)s, %(language)s): your words do not fit, so the program’s go out. %(why)s")
    return [
        sentence
        % {
            "message": kind.label,
            "way": row.get_channel_display(),
            "language": name_of(row.language),
            "why": _first(faults),
        }
        for kind, row, faults in unfit_rows()
    ]


def _first(faults: Sequence[Fault]) -> str:
    """One reason is enough for the overview; its page lists all of them."""
    more = len(faults) - 1
    if not more:
        return faults[0].sentence
    rest = ngettext("%(number)d more on its page.", "%(number)d more on its page.", more) % {"number": more}
    return f"{faults[0].sentence} {rest}"


PAGE = SetupPage(
    code="message_words",
    title=gettext_lazy("Words of the messages"),
    url_name="setup_messages",
    missing=of_words,
    position=37,
)

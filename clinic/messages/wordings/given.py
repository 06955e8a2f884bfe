"""The slots that most kinds have, and invented values for them.

A site's own name and number are never invented: they count for the length of a text.
"""

from datetime import UTC, datetime
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import clock_words, day_words, moment_words
from clinic.accounts.models import Site
from clinic.accounts.phones import international
from clinic.messages.letters import is_on_paper
from clinic.messages.links import example_address
from clinic.messages.wordings.slots import ONLY_INSIDE, SAID_IN_FULL, Context, Part, Slot

SOMEBODY: Final = "Amara Example"
# From the range that is kept for stories (Ofcom, numbers for drama use).
NUMBER_OF_NOBODY: Final = "+44 20 7946 0000"
SOME_TIME: Final = datetime(2026, 9, 30, 13, 30, tzinfo=UTC)


def _number_or_none(site: Site) -> str:
    return international(site.phone) or NUMBER_OF_NOBODY


def _call_instead(number: str) -> str:
    return _("Please call us: %(number)s") % {"number": number}


def _link(context: Context) -> str:
    """A letter has no link: what stands there says how else."""
    return _call_instead(international(context["site"].phone)) if is_on_paper() else str(context["link_url"])


def _link_example(site: Site) -> str:
    return _call_instead(_number_or_none(site)) if is_on_paper() else example_address()


def moment_example(site: Site) -> str:
    return moment_words(SOME_TIME, site.zone)


def day_example(site: Site) -> str:
    return day_words(SOME_TIME, site.zone)


def clock_example(site: Site) -> str:
    return clock_words(SOME_TIME, site.zone)


NAME = Slot(
    name="name",
    says=gettext_lazy("what the patient is called"),
    of=lambda context: str(context["patient"].called),
    example=lambda _site: SOMEBODY,
    may_stand_in=ONLY_INSIDE,
)
PRACTICE = Slot(
    name="practice",
    says=gettext_lazy("the name of the site"),
    of=lambda context: str(context["site"].name),
    example=lambda site: site.name,
    needed_in=frozenset({Part.SMS}),
)
NUMBER = Slot(
    name="number",
    says=gettext_lazy("the telephone number of the site"),
    of=lambda context: international(context["site"].phone),
    example=_number_or_none,
    may_stand_in=SAID_IN_FULL,
    needed_in=frozenset({Part.SMS}),
)
LINK = Slot(
    name="link",
    says=gettext_lazy("the address of the patient’s own page"),
    of=_link,
    example=_link_example,
    may_stand_in=SAID_IN_FULL,
    needed_in=SAID_IN_FULL,
    stands_alone=True,
)

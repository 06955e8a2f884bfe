"""What a practice may put by name into its own words of recall's messages."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from django.utils.translation import gettext_lazy

from clinic.messages.wordings.given import LINK, NAME, NUMBER, NUMBER_OF_NOBODY, PRACTICE
from clinic.messages.wordings.slots import ONLY_INSIDE, SAID_IN_FULL, OwnWords, Slot
from whitening.recall.actions.planning import AFTERCARE, REVIEW_INVITATION, REVIEW_REMINDER, TWO_DAY_CHECK
from whitening.recall.actions.recalling import CHECK_RECALL, COLOUR_REMINDER

# Who worries at night finds the number that answers then, whatever else a practice writes.
OUT_OF_HOURS: Final = Slot(
    name="out_of_hours",
    says=gettext_lazy("the number outside opening hours"),
    of=lambda context: str(context["site"].out_of_hours_number),
    example=lambda site: site.out_of_hours_number or NUMBER_OF_NOBODY,
    may_stand_in=SAID_IN_FULL,
    needed_in=ONLY_INSIDE,
)
_TO_CALL: Final = replace(NUMBER, needed_in=SAID_IN_FULL)
PLAIN: Final = OwnWords(slots=(NAME, PRACTICE, NUMBER, LINK))
WORRYING: Final = OwnWords(slots=(NAME, PRACTICE, _TO_CALL, OUT_OF_HOURS, LINK))
OWN_WORDS: Final[Mapping[str, OwnWords]] = {
    AFTERCARE: WORRYING,
    TWO_DAY_CHECK: WORRYING,
    REVIEW_INVITATION: PLAIN,
    REVIEW_REMINDER: PLAIN,
    CHECK_RECALL: PLAIN,
    COLOUR_REMINDER: PLAIN,
}

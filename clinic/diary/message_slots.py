"""What a practice may put by name into its own words of the diary's messages."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import day_words, moment_words
from clinic.accounts.models import Site
from clinic.diary import naming, tidings
from clinic.diary.models import VisitType
from clinic.diary.reminding import Remind
from clinic.messages.letters import is_on_paper
from clinic.messages.wordings.given import LINK, NAME, NUMBER, PRACTICE, day_example, moment_example
from clinic.messages.wordings.slots import ONLY_INSIDE, SAID_IN_FULL, Context, OwnWords, Slot


def _visit_sentence(visit_type: VisitType) -> str:
    """Nothing where the name would say too much."""
    visit = naming.told(visit_type)
    return _("What it is: %(visit)s.") % {"visit": visit} if visit else ""


def _visit_example(_site: Site) -> str:
    return _("What it is: %(visit)s.") % {"visit": _("First visit")}


def _page(context: Context) -> str:
    """What stands before the link to the page of the visit."""
    if is_on_paper():
        return _on_paper(context)
    return _read_first() if context["is_awaited"] else _("Everything about this visit stands on your page:")


def _read_first() -> str:
    return _(
        "Before your visit there is something to read and to answer. It takes a few minutes, and you can stop and go "
        "on later:"
    )


def _bring_time() -> str:
    return _(
        "Before your visit there is something to read and to answer. Please call us, or come a little earlier: we "
        "have it here on paper."
    )


def _on_paper(context: Context) -> str:
    return _bring_time() if context["is_awaited"] else ""


def _same_page(context: Context) -> str:
    if is_on_paper():
        return _on_paper(context)
    return _on_the_same_page() if context["is_awaited"] else ""


def _on_the_same_page() -> str:
    return _("On the same page there is something to read and to answer before your visit.")


def _still_to_read() -> str:
    return _(
        "There is still something to read and to answer before your visit. The link to it is in our first message; "
        "call us if you cannot find it."
    )


def _moves(context: Context) -> str:
    instead = context["instead"]
    return _it_moves(naming.wall_words(instead)) if instead else ""


def _it_moves(later: str) -> str:
    return _("If you take it, your appointment of %(later)s moves to this time.") % {"later": later}


DATE: Final = Slot(
    name="date",
    says=gettext_lazy("day and time of the visit"),
    of=lambda context: naming.wall_words(context["booking"]),
    example=moment_example,
    needed_in=SAID_IN_FULL,
)
VISIT: Final = Slot(
    name="visit",
    says=gettext_lazy("a sentence that says which visit it is, where its name says nothing of a treatment"),
    of=lambda context: _visit_sentence(context["visit_type"]),
    example=_visit_example,
    may_stand_in=ONLY_INSIDE,
)
TO_DO: Final = Slot(
    name="to_do",
    says=gettext_lazy("a sentence about what there is to read and to answer before the visit, if there is anything"),
    of=lambda context: _still_to_read() if context["is_awaited"] else "",
    example=lambda _site: _still_to_read(),
    may_stand_in=ONLY_INSIDE,
    needed_in=ONLY_INSIDE,
)
ON_THE_PAGE: Final = replace(
    TO_DO,
    says=gettext_lazy("a sentence that says what the page is for; put the link right after it"),
    of=_page,
    example=lambda _site: _bring_time() if is_on_paper() else _read_first(),
)
ON_THE_SAME_PAGE: Final = replace(
    TO_DO, of=_same_page, example=lambda _site: _bring_time() if is_on_paper() else _on_the_same_page()
)
HELD_UNTIL: Final = Slot(
    name="until",
    says=gettext_lazy("until when the time is held"),
    of=lambda context: naming.lapse_words(context["booking"]),
    example=moment_example,
    needed_in=SAID_IN_FULL,
)
ANSWER_BY: Final = replace(
    HELD_UNTIL,
    says=gettext_lazy("until when yes or no can be said"),
    of=lambda context: moment_words(context["offer"].answer_by, context["site"].zone),
)
OPEN_UNTIL: Final = Slot(
    name="until",
    says=gettext_lazy("the last day on which the link works"),
    of=lambda context: day_words(context["invitation"].closes_at, context["site"].zone),
    example=day_example,
)
MOVES: Final = Slot(
    name="moves",
    says=gettext_lazy("a sentence that says which appointment this one takes the place of, if there is one"),
    of=_moves,
    example=lambda site: _it_moves(moment_example(site)),
    may_stand_in=ONLY_INSIDE,
    needed_in=ONLY_INSIDE,
)
_USUAL: Final = (NAME, PRACTICE, NUMBER, DATE, VISIT)
OFFER: Final = OwnWords(slots=(*_USUAL, ANSWER_BY, MOVES, LINK))
OF_VISITS: Final[Mapping[str, OwnWords]] = {
    tidings.CONFIRMED: OwnWords(slots=(*_USUAL, ON_THE_PAGE, LINK)),
    tidings.PENCILLED: OwnWords(
        slots=(*_USUAL, HELD_UNTIL),
        usually={"times": [], "is_next_try": False},
        except_when=lambda context: bool(context["times"]),
        exception=gettext_lazy("Several times that were pencilled together are told in the program’s words: a list."),
    ),
    tidings.MOVED: OwnWords(slots=(*_USUAL, LINK)),
    tidings.CANCELLED: OwnWords(slots=_USUAL),
    tidings.PAGE: OwnWords(slots=(*_USUAL, LINK)),
    tidings.LAPSED: OwnWords(slots=_USUAL),
    tidings.PICK: OwnWords(slots=(NAME, PRACTICE, NUMBER, VISIT, OPEN_UNTIL, LINK)),
    Remind.WEEK_BEFORE: OwnWords(slots=(*_USUAL, ON_THE_SAME_PAGE, LINK)),
    Remind.TWO_DAYS_BEFORE: OwnWords(slots=(*_USUAL, TO_DO)),
}

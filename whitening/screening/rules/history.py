"""Earlier whitening and cleaning. Sources stand in data/rules."""

from datetime import date, timedelta

from whitening.screening.examination import Item
from whitening.screening.facts import Answer
from whitening.screening.grades import AnsweredBy
from whitening.screening.rules.readings import (
    ABSENT,
    Open,
    Present,
    Reading,
    Seen,
    based_on,
    fires,
    first_of,
    found,
)

# None in the last 6 months: from memory. Counted in days, like the rest of the history.
CLEAN_FOR = timedelta(days=180)
CLEANED = frozenset({"under_2_weeks", "under_6_months"})


def _until(seen: Seen, name: str) -> Reading:
    """A waiting time whose end is the event itself, counted from a day that the patient named."""
    answer = seen.answer(name)
    if answer is None or not isinstance(answer.value, date):
        return Open(AnsweredBy.PATIENT)
    until = seen.wait_from(answer.value)
    return Present(based_on(name, answer), not_before=until) if seen.today < until else ABSENT


@fires("PRV-01")
def whitened_lately(seen: Seen) -> Reading:
    answer = seen.answer("whitened_before")
    if answer is None:
        return Open(AnsweredBy.PATIENT)
    match answer.value:
        case "no":
            return ABSENT
        case "yes":
            return _until(seen, "whitened_last_on")
        case _:
            # Not sure, so no day to count from: a person decides.
            return Present(based_on("whitened_before", answer))


@fires("PRV-03")
def whitening_at_home(seen: Seen) -> Reading:
    """While it goes on no date can end it; once stopped, 14 days do."""
    answer = seen.answer("whitening_now")
    if answer is None:
        return Open(AnsweredBy.PATIENT)
    match answer.value:
        case "no":
            return ABSENT
        case "stopped":
            return _until(seen, "whitening_stopped_on")
        case _:
            return Present(based_on("whitening_now", answer), not_before=seen.wait_from(answer.given_on))


@fires("HYG-01")
def not_clean(seen: Seen) -> Reading:
    answer = seen.answer("last_cleaning")
    if answer is None:
        return Open(AnsweredBy.PATIENT)
    if seen.examination is None:
        return _too_long_ago(seen, answer)
    # Clean by the calendar is not clean to the eye: either alone defers.
    deposits = found(seen, item=Item.DEPOSITS, present=seen.examination.deposits)
    return first_of(deposits, _too_long_ago(seen, answer))


def _too_long_ago(seen: Seen, answer: Answer) -> Reading:
    """A cleaning that the examiner dated counts before what the patient remembers."""
    cleaned_on = seen.examination.cleaned_on if seen.examination else None
    recent = cleaned_on + CLEAN_FOR >= seen.today if cleaned_on else answer.value in CLEANED
    return ABSENT if recent else Present(based_on("last_cleaning", answer))

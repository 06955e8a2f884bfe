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
    chosen,
    examined_as,
    fires,
    first_of,
    found,
    not_asked,
    said,
    until,
)

# None in the last 6 months: from memory. Counted in days, like the rest of the history.
CLEAN_FOR = timedelta(days=180)
CLEANED = frozenset({"under_1_week", "under_2_weeks", "under_6_months"})
# So soon after a cleaning gums may be tender: practices disagree, no trial found.
TENDER_FOR = timedelta(days=7)


@fires("PRV-01")
def whitened_lately(seen: Seen) -> Reading:
    answer = seen.answer("whitened_before")
    if answer is None:
        return Open(AnsweredBy.PATIENT)
    match answer.value:
        case "no":
            return ABSENT
        case "yes":
            return until(seen, "whitened_last_on")
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
            return until(seen, "whitening_stopped_on")
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


@fires("HYG-02")
def cleaned_just_now(seen: Seen) -> Reading:
    """A cleaning that the examiner dated counts before what the patient remembers; either way 14 days end it."""
    answer, examination = seen.answer("last_cleaning"), seen.looked(Item.DEPOSITS)
    if answer is None:
        return not_asked("last_cleaning")
    if examination and examination.cleaned_on and examination.examined_at >= answer.given_at:
        if examination.examined_on - examination.cleaned_on > TENDER_FOR:
            return ABSENT
        return _tender(seen, examined_as(Item.DEPOSITS, examination), seen.wait_from(examination.cleaned_on))
    if answer.value != "under_1_week":
        return ABSENT
    return _tender(seen, based_on("last_cleaning", answer), seen.wait_from(answer.given_on))


def _tender(seen: Seen, basis: str, over_on: date) -> Reading:
    return Present(basis, not_before=over_on) if seen.today < over_on else ABSENT


def _if_whitened_before(seen: Seen, name: str) -> Reading:
    """Asked only of those who have had it, or may have."""
    before = said(seen, "whitened_before")
    return said(seen, name) if isinstance(before, Present) else before


@fires("PRV-02")
def whitening_hurt(seen: Seen) -> Reading:
    return _if_whitened_before(seen, "whitening_hurt")


@fires("PRV-04")
def whitens_often(seen: Seen) -> Reading:
    return first_of(chosen(seen, "whitening_now", "daily"), _if_whitened_before(seen, "whitening_often"))

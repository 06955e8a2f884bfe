"""What a patient reads where something could not be done: never the words that were written for the desk."""

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.diary import refusals
from clinic.trail.refusals import Refusal

NO_LONGER_FREE: StrOrPromise = _("That time is no longer free. Pick one of these.")
NOT_DONE: StrOrPromise = _("That could not be done, and nothing has changed. Please call us.")
PICK_ONE: StrOrPromise = _("Pick one of the free times.")
_CHANGED: StrOrPromise = _("Your visit was changed after you opened this page. Here is how it stands now.")
_WORDS: dict[type[Refusal], StrOrPromise] = {
    refusals.SlotTaken: _("Somebody else has just taken that time. Pick one of these."),
    refusals.PatientBusy: _("You have another visit with us at that time. Pick another time, or call us."),
    refusals.ChangedMeanwhile: _CHANGED,
    refusals.NotPossibleNow: _CHANGED,
}


def for_patient(refusal: Refusal) -> StrOrPromise:
    """A refusal of another room speaks to staff, and may name what does not belong on a screen in the bus."""
    return _WORDS.get(type(refusal), NO_LONGER_FREE)

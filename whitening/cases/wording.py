"""Sentences of a case, with their dates in the reader's own language."""

from datetime import date

from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import birth_words
from whitening.cases.rules import is_old_enough, treatable_on

# Formatted when it is read, like the sentence around it.
shown_birthday = lazy(birth_words, str)


def age_sentence(birth_on: date, today: date) -> StrOrPromise | None:
    """What to say at once while the date of birth is typed, or nothing for an adult."""
    if is_old_enough(birth_on, today):
        return None
    sentence = _(
        "Whitening not before {day}, the 18th birthday. If a dentist thinks treatment is needed for disease, "
        "that is a separate route outside this program."
    )
    return format_lazy(sentence, day=shown_birthday(treatable_on(birth_on)))

"""Pure rules of a case: from which day on a person can be treated here, and how steps are counted."""

from datetime import date

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.patients.rules import adult_on

# Directive 2011/84/EU and the UK regulations that follow it: not under 18 (seen in secondary texts).
# Where no law was found the program keeps the same age by its own policy.


def treatable_on(birth_on: date) -> date:
    """The first day on which a treatment may be planned in this program."""
    return adult_on(birth_on)


def is_old_enough(birth_on: date, day: date) -> bool:
    return treatable_on(birth_on) <= day


def age_sentence(birth_on: date, today: date) -> StrOrPromise | None:
    """What to say at once while the date of birth is typed, or nothing for an adult."""
    if is_old_enough(birth_on, today):
        return None
    first = treatable_on(birth_on)
    return _(
        "Whitening not before %(day)s, the 18th birthday. If a dentist thinks treatment is needed for disease, "
        "that is a separate route outside this program."
    ) % {"day": f"{first.day} {first:%b %Y}"}

"""Pure rules of a case: from which day on a person can be treated here, and how steps are counted."""

from datetime import date

from clinic.patients.rules import adult_on

# Directive 2011/84/EU and the UK regulations that follow it: not under 18 (seen in secondary texts).
# Where no law was found the program keeps the same age by its own policy.


def treatable_on(birth_on: date) -> date:
    """The first day on which a treatment may be planned in this program."""
    return adult_on(birth_on)


def is_old_enough(birth_on: date, day: date) -> bool:
    return treatable_on(birth_on) <= day

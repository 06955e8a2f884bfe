"""How long answers hold."""

from datetime import date, timedelta

# A design rule, from memory: rules are only as good as the last answers. A clinician may go on with older ones.
ANSWERS_VALID_DAYS = 30


def answers_hold_until(given_on: date) -> date:
    return given_on + timedelta(days=ANSWERS_VALID_DAYS)


def answers_in_date(*, given_on: date, today: date) -> bool:
    return today <= answers_hold_until(given_on)

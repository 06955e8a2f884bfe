"""Answers hold for 30 days: a design rule, from memory."""

from datetime import date

from whitening.screening.validity import answers_hold_until, answers_in_date


def test_thirty_days() -> None:
    assert answers_hold_until(date(2026, 1, 31)) == date(2026, 3, 2)
    assert answers_in_date(given_on=date(2026, 1, 31), today=date(2026, 3, 2))
    assert not answers_in_date(given_on=date(2026, 1, 31), today=date(2026, 3, 3))

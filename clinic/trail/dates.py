"""Dates as every part writes them in a sentence: one shape for each language, named in clinic/config/formats."""

from datetime import date

from django.utils.formats import date_format, get_format


def day_in_words(day: date) -> str:
    """`Tue 3 Mar 2026`, for a day that somebody comes or does something."""
    return date_format(day, "DATE_FORMAT")


def plain_day(day: date) -> str:
    """`3 Mar 2026`: the same without the day of the week, for birthdays and for what holds from or until a day."""
    return date_format(day, get_format("DATE_FORMAT").removeprefix("D "))

"""A date is typed as day, month, year, and never guessed."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from clinic.accounts.fields import NativeDate, NativeTime, TypedDate, TypedDateField

BORN = date(1990, 8, 12)


@pytest.mark.parametrize(
    "typed",
    ["12 8 1990", "12/8/1990", "12.08.1990", "12-8-1990", " 12 . 8 . 1990 ", "1990-08-12", "1990/8/12", "12 Aug 1990"],
)
def test_it_works(typed: str) -> None:
    assert TypedDateField().clean(typed) == BORN


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("12 8 90", "short_year"),
        ("8/25/1990", "month_first"),
        ("30 2 1990", "invalid"),
        ("0 1 1990", "invalid"),
        ("40 13 1990", "invalid"),
        ("١٢ ٨ ٩٠", "short_year"),
        ("soon", "invalid"),
        ("12\x00 8 1990", "invalid"),
        ("9" * 300, "invalid"),
        ("31 12 1899", "too_early"),
        ("1 1 2031", "too_late"),
        ("", "required"),
    ],
)
def test_a_slip_is_said(typed: str, code: str) -> None:
    field = TypedDateField(earliest=date(1900, 1, 1), latest=date(2030, 12, 31))
    with pytest.raises(ValidationError) as refused:
        field.clean(typed)
    assert refused.value.code == code


def test_the_sentence_says_what_to_do() -> None:
    with pytest.raises(ValidationError, match=r"25 would be the month here\. Type day, month, year\."):
        TypedDateField().clean("8/25/1990")
    with pytest.raises(ValidationError, match=r"before Mon 1 Jan 1900\. Look at the year again\."):
        TypedDateField(earliest=date(1900, 1, 1)).clean("1 1 1800")


def test_digits_of_other_scripts_are_read() -> None:
    assert TypedDateField().clean("١٢ ٨ ١٩٩٠") == BORN


@given(st.dates())
def test_what_is_shown_can_be_sent_back(day: date) -> None:
    shown = TypedDate().format_value(day)
    if day.year >= 1000:
        assert TypedDateField().clean(shown) == day


def test_the_browser_understands_what_it_is_given() -> None:
    assert 'type="date"' in NativeDate().render("on", BORN)
    assert 'value="1990-08-12"' in NativeDate().render("on", BORN)
    assert 'type="time"' in NativeTime().render("at", None)

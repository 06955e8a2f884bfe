"""Form fields that every part asks in the same way."""

import re
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words

_NUMBERS = re.compile(r"\s*(\d{1,4})\s*[\s./-]\s*(\d{1,2})\s*[\s./-]\s*(\d{1,4})\s*")


class TypedDate(forms.DateInput):
    """One box: quicker than three, and no calendar to leaf through for a birth date."""

    input_type = "text"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocomplete": "off", "inputmode": "text", "class": "short", **(attrs or {})})

    def format_value(self, value: Any) -> str | None:
        return f"{value.day} {value.month} {value.year}" if isinstance(value, date) else value


class TypedDateField(forms.DateField):
    """A date typed as day, month, year, with any of the usual signs between; a month may be a word.

    What could be read in two ways is never guessed at: a year needs four digits, and a date that is
    possible only with the month first is asked again.
    """

    widget = TypedDate
    default_error_messages = {
        "invalid": _("This is not a date. Type day, month and year, such as 12 8 1990 for 12 August 1990."),
        "short_year": _("Type the year with four digits, such as 12 8 1990."),
        "month_first": _("The month comes second: %(day)s would be the month here. Type day, month, year."),
        "too_early": _("This date is before %(earliest)s. Look at the year again."),
        "too_late": _("This date is after %(latest)s. Look at the year again."),
    }

    def __init__(self, *, earliest: date | None = None, latest: date | None = None, **options: Any) -> None:
        self.earliest = earliest
        self.latest = latest
        options.setdefault("help_text", _("Day, month, year, such as 12 8 1990"))
        super().__init__(**options)

    def to_python(self, value: Any) -> date | None:
        if isinstance(value, str) and (typed := _NUMBERS.fullmatch(value)):
            return self._from_numbers(typed)
        return super().to_python(value)

    def validate(self, value: date | None) -> None:
        super().validate(value)
        if value is not None and self.earliest is not None and value < self.earliest:
            raise self._refused("too_early", earliest=day_words(self.earliest))
        if value is not None and self.latest is not None and value > self.latest:
            raise self._refused("too_late", latest=day_words(self.latest))

    def _from_numbers(self, typed: re.Match[str]) -> date:
        first, month, last = typed.groups()
        year_first = len(first) == 4
        year, day = (first, last) if year_first else (last, first)
        if len(year) != 4:
            raise self._refused("short_year")
        if int(month) > 12 >= int(day):
            raise self._refused("month_first", day=month)
        try:
            return date(int(year), int(month), int(day))
        except ValueError as error:
            raise self._refused("invalid") from error

    def _refused(self, code: str, **params: str) -> ValidationError:
        return ValidationError(self.error_messages[code], code=code, params=params)


class NativeDate(forms.DateInput):
    """The browser's own date picker, for days near today (a diary, an expiry)."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        # The only shape that this kind of control understands, in every language.
        super().__init__(attrs, format="%Y-%m-%d")


class NativeTime(forms.TimeInput):
    input_type = "time"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%H:%M")

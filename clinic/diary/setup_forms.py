"""Forms of working time in Set-up."""

from datetime import date, time, timedelta
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import NativeDate, NativeTime
from clinic.diary.engine.changing import Change
from clinic.diary.forms import DATE_FORMATS, INVALID_TIME, WEEKDAYS


class DayField(forms.DateField):
    """A day that the diary can count with."""

    def __init__(self, **options: Any) -> None:
        validators = [MinValueValidator(date(1970, 1, 2)), MaxValueValidator(date(2200, 12, 31))]
        super().__init__(input_formats=DATE_FORMATS, widget=NativeDate, validators=validators, **options)


class PatternForm(forms.Form):
    """Working hours of one resource on some weekdays, from a day on."""

    weekdays = forms.TypedMultipleChoiceField(
        label=_("Weekdays"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        choices=WEEKDAYS,
        error_messages={"required": _("Tick at least one weekday.")},
    )
    closed = forms.BooleanField(label=_("Not to be booked on these weekdays"), required=False)
    from_time = forms.TimeField(label=_("From"), required=False, widget=NativeTime, error_messages=INVALID_TIME)
    to_time = forms.TimeField(label=_("Until"), required=False, widget=NativeTime, error_messages=INVALID_TIME)
    pause_from = forms.TimeField(label=_("Pause from"), required=False, widget=NativeTime, error_messages=INVALID_TIME)
    pause_to = forms.TimeField(label=_("Pause until"), required=False, widget=NativeTime, error_messages=INVALID_TIME)
    every_weeks = forms.TypedChoiceField(
        label=_("In which weeks"),
        coerce=int,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
        choices=[(1, _("every week")), (2, _("every other week, beginning with the week of the first day"))],
        help_text=_("Every other week: the weeks between keep their hours. Enter those by themselves."),
    )
    from_on = DayField(label=_("First day"))
    last_on = DayField(
        label=_("Last day"), required=False, help_text=_("Empty: until further notice. After it the old hours return.")
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("from_on"), cleaned.get("last_on")
        if first and last and last < first:
            self.add_error("last_on", _("The last day must not lie before the first."))
        if cleaned.get("closed"):
            return cleaned
        for name in ("from_time", "to_time"):
            if not cleaned.get(name) and name not in self.errors:
                self.add_error(name, _("Write a time such as 9:00, or tick that these days are not to be booked."))
        self._later("from_time", "to_time", _("The end must be later than the start."))
        if bool(cleaned.get("pause_from")) != bool(cleaned.get("pause_to")):
            self.add_error("pause_to", _("A pause needs its start and its end."))
        for earlier, later in (("from_time", "pause_from"), ("pause_from", "pause_to"), ("pause_to", "to_time")):
            self._later(earlier, later, _("The pause must lie inside the hours, its end after its start."))
        return cleaned

    def change(self) -> Change:
        data = self.cleaned_data
        until_on = data["last_on"] + timedelta(days=1) if data["last_on"] else None
        every_weeks = data["every_weeks"] or 1
        return Change(frozenset(data["weekdays"]), self._stretches(), data["from_on"], until_on, every_weeks)

    def _stretches(self) -> tuple[tuple[time, time], ...]:
        data = self.cleaned_data
        if data["closed"]:
            return ()
        if data["pause_from"] is None:
            return ((data["from_time"], data["to_time"]),)
        return ((data["from_time"], data["pause_from"]), (data["pause_to"], data["to_time"]))

    def _later(self, earlier: str, later: str, sentence: Any) -> None:
        left, right = self.cleaned_data.get(earlier), self.cleaned_data.get(later)
        if left and right and right <= left:
            self.add_error(later, sentence)

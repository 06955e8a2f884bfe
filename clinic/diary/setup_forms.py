"""Forms of working time in Set-up."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import day_words
from clinic.accounts.fields import NativeDate, NativeTime
from clinic.accounts.models import Site
from clinic.diary.engine.changing import Change
from clinic.diary.engine.working import instant
from clinic.diary.forms import DATE_FORMATS
from clinic.diary.holidays_ahead import closures_on
from clinic.diary.models import Closure, ClosureKind, Resource, ResourceKind, VisitType
from clinic.diary.suiting import INVALID_TIME, WEEKDAYS


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
        choices=[(1, _("Every week")), (2, _("Every other week, beginning with the week of the first day"))],
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


class ClosureForm(forms.Form):
    """Leave, training, a room out of use, a closed site: whole days, or from one time to another."""

    kind = forms.ChoiceField(
        label=_("What is it"),
        choices=[one for one in ClosureKind.choices if one[0] != ClosureKind.HOLIDAY],
        widget=forms.RadioSelect,
    )
    resource = forms.ModelChoiceField(
        Resource.objects.none(), label=_("Who or what"), required=False, empty_label=_("the whole site")
    )
    from_on = DayField(label=_("From day"))
    from_time = forms.TimeField(
        label=_("From time"),
        required=False,
        widget=NativeTime,
        error_messages=INVALID_TIME,
        help_text=_("Empty: from the day's beginning"),
    )
    last_on = DayField(label=_("Until day"), required=False, help_text=_("Empty: the same day"))
    to_time = forms.TimeField(
        label=_("Until time"),
        required=False,
        widget=NativeTime,
        error_messages=INVALID_TIME,
        help_text=_("Empty: until the day's end"),
    )
    reason = forms.CharField(
        label=_("Reason"), max_length=120, required=False, help_text=_("Only managers read it, here on this page.")
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        field: Any = self.fields["resource"]
        field.queryset = Resource.objects.bookable().filter(site=site)
        field.widget.choices = [("", field.empty_label), *_by_kind(field.queryset)]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if "resource" in cleaned and (wrong := _whom_it_needs(cleaned.get("kind", ""), cleaned["resource"])):
            self.add_error("resource", wrong)
        if not self.errors and self._ends_at() <= self._starts_at():
            late = "to_time" if cleaned["to_time"] and cleaned["last_on"] in {None, cleaned["from_on"]} else "last_on"
            self.add_error(late, _("The end must be later than the start."))
        return cleaned

    def closure(self) -> Closure:
        """Not kept yet."""
        data = self.cleaned_data
        return Closure(
            site=self.site,
            kind=data["kind"],
            resource=data["resource"],
            starts_at=self._starts_at(),
            ends_at=self._ends_at(),
            reason=data["reason"],
        )

    def _starts_at(self) -> datetime:
        data = self.cleaned_data
        return instant(data["from_on"], data["from_time"] or time(0), self.site.zone)

    def _ends_at(self) -> datetime:
        data = self.cleaned_data
        last_on = data["last_on"] or data["from_on"]
        if data["to_time"]:
            return instant(last_on, data["to_time"], self.site.zone)
        return instant(last_on + timedelta(days=1), time(0), self.site.zone)


class HolidaysForm(forms.Form):
    """Public holidays, each with a tick; none is ticked until somebody does it."""

    days = forms.TypedMultipleChoiceField(
        label=_("Close the whole site on"),
        coerce=date.fromisoformat,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one day.")},
    )

    def __init__(self, *args: Any, site: Site, offered: Sequence[tuple[date, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.names = dict(offered)
        field: Any = self.fields["days"]
        field.choices = [(day.isoformat(), f"{day_words(day)}: {name}") for day, name in offered]

    def closures(self) -> list[Closure]:
        """Not kept yet."""
        return closures_on(self.site, [(day, self.names[day]) for day in self.cleaned_data["days"]])


class VisitsOfPersonForm(forms.Form):
    """Which kinds of visit somebody does: all of them, until one is taken away."""

    visit_types = forms.ModelMultipleChoiceField(
        VisitType.objects.none(), label=_("Does these visits"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, resource: Resource, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = VisitType.objects.filter(site=resource.site_id)
        field: Any = self.fields["visit_types"]
        field.queryset, field.initial = rows, rows.exclude(pk__in=resource.without_visits.all())

    def visit_type_ids(self) -> set[int]:
        return {one.pk for one in self.cleaned_data["visit_types"]}


def _by_kind(resources: Iterable[Resource]) -> list[tuple[Any, list[tuple[int, str]]]]:
    titles = ((ResourceKind.PERSON, _("People")), (ResourceKind.ROOM, _("Rooms")), (ResourceKind.LIGHT, _("Lights")))
    return [(title, [(one.pk, one.name) for one in resources if one.kind == kind]) for kind, title in titles]


def _whom_it_needs(kind: str, resource: Resource | None) -> StrOrPromise:
    """What is wrong with whom was picked; nothing where it fits."""
    of_a_person = resource is not None and resource.kind == ResourceKind.PERSON
    if kind == ClosureKind.LEAVE and not of_a_person:
        return _("Pick the person who is away.")
    if kind == ClosureKind.OUT_OF_USE and (resource is None or of_a_person):
        return _("Pick the room or the light that is out of use.")
    if kind == ClosureKind.TRAINING and resource is not None and not of_a_person:
        return _("Pick the person, or the whole site.")
    if kind == ClosureKind.CLOSED and resource is not None:
        return _("This closes the whole site: pick that, or say what else it is.")
    return ""

"""Forms of the diary."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import LightKind, Resource, ResourceKind, VisitType
from clinic.diary.openings import Wanted

DATE_FORMATS = ["%Y-%m-%d", "%d %m %Y", "%d.%m.%Y", "%d/%m/%Y", "%d %b %Y", "%d %B %Y"]
SEARCH_DAYS = 90


class FindForm(forms.Form):
    """What is looked for: a visit, from which day, with whom."""

    visit_type = forms.ModelChoiceField(
        VisitType.objects.none(), label=_("Visit"), empty_label=None, error_messages={"required": _("Pick the visit.")}
    )
    cycles = forms.IntegerField(
        label=_("Planned cycles"),
        min_value=1,
        max_value=6,
        initial=4,
        required=False,
        help_text=_("Only for treatment sessions: they set how long it takes."),
    )
    light_kind = forms.ChoiceField(
        label=_("Light"), required=False, choices=[("", _("no light")), *LightKind.choices[1:]]
    )
    person = forms.ModelChoiceField(
        Resource.objects.none(), label=_("With"), required=False, empty_label=_("anyone suitable")
    )
    from_on = forms.DateField(
        label=_("From"),
        input_formats=DATE_FORMATS,
        error_messages={"invalid": _("That is not a date. Write day, month and year: for example 3 3 2027.")},
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        visit_types = VisitType.objects.filter(site=site, active=True)
        people = Resource.objects.bookable().filter(site=site, kind=ResourceKind.PERSON)
        self.fields["visit_type"].queryset = visit_types  # type: ignore[attr-defined]
        self.fields["person"].queryset = people  # type: ignore[attr-defined]

    def wanted(self) -> Wanted:
        data = self.cleaned_data
        person = data["person"].pk if data["person"] else None
        return Wanted(data["visit_type"], data["cycles"] or 0, data["light_kind"], person)

    def range(self, now: datetime) -> tuple[datetime, datetime]:
        """From the wanted day's start, but never in the past, to the end of the search."""
        first: date = self.cleaned_data["from_on"]
        earliest_at = max(instant(first, time(0), self.site.zone), now)
        return earliest_at, earliest_at + timedelta(days=SEARCH_DAYS)


class StartForm(forms.Form):
    """The chosen opening: its instant, as the list of openings gave it."""

    start_at = forms.DateTimeField(input_formats=["%Y-%m-%dT%H:%M:%S%z"])

    def clean_start_at(self) -> datetime:
        value: datetime = self.cleaned_data["start_at"]
        return value


class PatternForm(forms.Form):
    """Working hours of one resource on some weekdays, from a day on."""

    weekdays = forms.TypedMultipleChoiceField(
        label=_("Weekdays"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        choices=[
            (0, _("Monday")),
            (1, _("Tuesday")),
            (2, _("Wednesday")),
            (3, _("Thursday")),
            (4, _("Friday")),
            (5, _("Saturday")),
            (6, _("Sunday")),
        ],
        error_messages={"required": _("Tick at least one weekday.")},
    )
    from_time = forms.TimeField(label=_("From"), error_messages={"invalid": _("Write a time such as 9:00.")})
    to_time = forms.TimeField(label=_("Until"), error_messages={"invalid": _("Write a time such as 17:30.")})
    from_on = forms.DateField(label=_("First day"), input_formats=DATE_FORMATS)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("from_time") and cleaned.get("to_time") and cleaned["to_time"] <= cleaned["from_time"]:
            self.add_error("to_time", _("The end must be later than the start."))
        return cleaned

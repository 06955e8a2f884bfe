"""Forms of finding a time: what is looked for, when and with whom, and the time that was chosen."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.accounts.fields import NativeDate
from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import LightKind, Need, Resource, ResourceKind, VisitType
from clinic.diary.openings import Wanted
from clinic.diary.suiting import TimesForm

DATE_FORMATS = ["%Y-%m-%d", "%d %m %Y", "%d.%m.%Y", "%d/%m/%Y", "%d %b %Y", "%d %B %Y"]
SEARCH_DAYS = 90
FURTHEST_DAYS = 2 * 365


class DayForm(TimesForm):
    """From which day on to look, with whom, and which days and times suit the patient."""

    from_on = forms.DateField(
        label=_("From"),
        input_formats=DATE_FORMATS,
        widget=NativeDate,
        error_messages={"invalid": _("That is not a date. Write day, month and year: for example 3 3 2027.")},
    )

    def __init__(self, *args: Any, site: Site, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, site=site, **kwargs)
        self.now = now

    def clean_from_on(self) -> date:
        wanted: date = self.cleaned_data["from_on"]
        last = self.now.astimezone(self.site.zone).date() + timedelta(days=FURTHEST_DAYS)
        if wanted > last:
            raise forms.ValidationError(
                _("The diary is looked through until %(last)s. Pick an earlier day."),
                params={"last": day_words(last)},
            )
        return wanted

    @property
    def has_wishes(self) -> bool:
        """Whether the part of the page with days and times stands open."""
        names = ("weekdays", "not_before", "over_by")
        return any(name in self.errors or self.cleaned_data.get(name) for name in names)

    def person_id(self) -> int | None:
        person: Resource | None = self.cleaned_data["person"]
        return person.pk if person else None

    def range(self) -> tuple[datetime, datetime]:
        """From the wanted day's start, but never in the past, to the end of the search."""
        today = self.now.astimezone(self.site.zone).date()
        first = max(self.cleaned_data["from_on"], today)
        earliest_at = max(instant(first, time(0), self.site.zone), self.now)
        return earliest_at, earliest_at + timedelta(days=SEARCH_DAYS)


class FindForm(DayForm):
    """What is looked for: a visit, from which day, with whom."""

    visit_type = forms.ModelChoiceField(
        VisitType.objects.none(),
        label=_("Visit"),
        empty_label=None,
        error_messages={"required": _("Pick the visit.")},
        # What else is asked depends on it.
        widget=forms.Select(attrs={"data-auto-submit": ""}),
    )
    cycles = forms.IntegerField(
        label=_("Planned cycles"),
        min_value=1,
        max_value=6,
        initial=4,
        required=False,
        help_text=_("They set how long it takes."),
    )
    light_kind = forms.ChoiceField(
        label=_("Light"), required=False, choices=[("", _("no light")), *LightKind.choices[1:]]
    )
    room = forms.ModelChoiceField(Resource.objects.none(), label=_("In"), required=False, empty_label=_("any room"))
    field_order = ("visit_type", "cycles", "light_kind", "person", "room", "from_on")

    def __init__(self, *args: Any, site: Site, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, site=site, now=now, **kwargs)
        visit_types = VisitType.objects.bookable().filter(site=site)
        self.fields["visit_type"].queryset = visit_types  # type: ignore[attr-defined]
        rooms = Resource.objects.bookable().filter(site=site, kind=ResourceKind.ROOM)
        self.fields["room"].queryset = rooms  # type: ignore[attr-defined]

    @property
    def asks_cycles(self) -> bool:
        """Whether cycles and light count, or something is wrong in what was typed there."""
        return self._has_cycles or any(name in self.errors for name in ("cycles", "light_kind"))

    @cached_property
    def _has_cycles(self) -> bool:
        visit_type: VisitType | None = self.cleaned_data.get("visit_type")
        return visit_type is not None and visit_type.has_cycles

    def wanted(self) -> Wanted:
        data = self.cleaned_data
        return Wanted(
            data["visit_type"],
            (data["cycles"] or 0) if self._has_cycles else 0,
            data["light_kind"] if self._has_cycles else "",
            self.person_id(),
            self.wishes(),
            only={Need.ROOM: data["room"].pk} if data["room"] else {},
            now=self.now,
        )


class InviteForm(forms.Form):
    """Which visit the patient is asked to pick a time for."""

    visit_type = forms.ModelChoiceField(VisitType.objects.none())
    cycles = forms.IntegerField(min_value=1, max_value=6, required=False)
    light_kind = forms.ChoiceField(required=False, choices=[("", ""), *LightKind.choices[1:]])

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        visit_types = VisitType.objects.bookable().filter(site=site)
        self.fields["visit_type"].queryset = visit_types  # type: ignore[attr-defined]

    def clean_cycles(self) -> int:
        return self.cleaned_data["cycles"] or 0


class StartForm(forms.Form):
    """The chosen opening: its instant, as the list of openings gave it."""

    start_at = forms.DateTimeField(
        input_formats=["%Y-%m-%dT%H:%M:%S%z"],
        error_messages={
            "required": _("Pick one of the free times."),
            "invalid": _("That is none of the free times. Pick one of them."),
        },
    )
    version = forms.IntegerField(required=False)

    def clean_start_at(self) -> datetime:
        value: datetime = self.cleaned_data["start_at"]
        # Outside these years the arithmetic of zones ends.
        if not 1970 <= value.year <= 2200:
            raise forms.ValidationError(self.fields["start_at"].error_messages["invalid"])
        return value


class PlaceForm(StartForm):
    """A place on a diary page: an instant (a row of a day) or a wall-clock time of a day (of a week); whose column."""

    day = forms.DateField(required=False, input_formats=["%Y-%m-%d"])
    time = forms.TimeField(required=False, input_formats=["%H:%M"])
    to = forms.ModelChoiceField(Resource.objects.none())

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.fields["start_at"].required = False
        self.fields["to"].queryset = Resource.objects.bookable().filter(site=site)  # type: ignore[attr-defined]

    def clean_start_at(self) -> datetime | None:  # type: ignore[override]
        return super().clean_start_at() if self.cleaned_data["start_at"] else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("start_at") and data.get("day") and data.get("time"):
            data["start_at"] = instant(data["day"], data["time"], self.site.zone)
        if not data.get("start_at"):
            raise forms.ValidationError(self.fields["start_at"].error_messages["invalid"])
        return data


class PutForm(PlaceForm):
    """Where a visit was put, and out of whose column."""

    of = forms.IntegerField()


class WalkInForm(StartForm):
    """A time that begins now, and which of the offered kinds of visit."""

    visit_type = forms.ModelChoiceField(
        VisitType.objects.none(),
        error_messages={"required": _("Pick the visit."), "invalid_choice": _("Pick the visit.")},
    )

    def __init__(self, *args: Any, visit_types: Sequence[VisitType], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = VisitType.objects.filter(pk__in=[one.pk for one in visit_types])
        self.fields["visit_type"].queryset = offered  # type: ignore[attr-defined]

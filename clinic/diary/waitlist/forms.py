"""What somebody waits for and when it suits: entered on the telephone, so every field but the visit may stay empty."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import NativeDate
from clinic.accounts.models import Site
from clinic.diary.forms import DATE_FORMATS
from clinic.diary.models import Booking, LightKind, VisitType, WaitingWish
from clinic.diary.segments import A_LIGHT
from clinic.diary.suiting import TimesForm
from clinic.diary.waitlist.listing import WantedVisit, WishDetails

NOTICE = [
    (0, _("none")),
    (2, _("2 hours")),
    (24, _("a day")),
    (48, _("two days")),
    (168, _("a week")),
]
NO_DATE = {"invalid": _("That is not a date. Write day, month and year: for example 3 3 2027.")}
# Longer ago is a slip of the hand.
LONGEST_WAIT = timedelta(days=3650)


class WishForm(TimesForm):
    """When it suits, with whom, how soon; for a visit that is booked, nothing else is asked."""

    notice_hours = forms.TypedChoiceField(
        label=_("Notice needed"), coerce=int, choices=NOTICE, initial=0, help_text=_("Before the time itself.")
    )
    since_on = forms.DateField(
        label=_("Waiting since"), input_formats=DATE_FORMATS, widget=NativeDate, error_messages=NO_DATE
    )
    until_on = forms.DateField(
        label=_("Last day that suits"),
        required=False,
        input_formats=DATE_FORMATS,
        widget=NativeDate,
        error_messages=NO_DATE,
    )

    def __init__(self, *args: Any, site: Site, today: date, **kwargs: Any) -> None:
        super().__init__(*args, site=site, **kwargs)
        self.today = today

    def clean_since_on(self) -> date:
        day: date = self.cleaned_data["since_on"]
        if not self.today - LONGEST_WAIT <= day <= self.today:
            raise forms.ValidationError(_("Nobody can wait since then. Write today, or the day on which they asked."))
        return day

    def clean_until_on(self) -> date | None:
        day: date | None = self.cleaned_data["until_on"]
        if day is not None and day < self.today:
            raise forms.ValidationError(_("That day has passed. Write a later one, or leave it empty."))
        return day

    def details(self) -> WishDetails:
        names = ("not_before", "over_by", "person", "notice_hours", "since_on", "until_on")
        data = self.cleaned_data
        return WishDetails(weekdays=frozenset(data["weekdays"]), **{name: data[name] for name in names})


class VisitSelect(forms.Select):
    """Marks the visits that have cycles: the page asks for them, and for the light, of those alone."""

    with_cycles: frozenset[int] = frozenset()

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if getattr(value, "value", value) in self.with_cycles:
            option["attrs"]["data-cycles"] = True
        return option


class NewWishForm(WishForm):
    """Of a visit that is not booked yet."""

    visit_type = forms.ModelChoiceField(
        VisitType.objects.none(),
        label=_("Visit"),
        empty_label=None,
        error_messages={"required": _("Pick the visit.")},
        widget=VisitSelect,
    )
    cycles = forms.IntegerField(
        label=_("Planned cycles"),
        min_value=1,
        max_value=6,
        required=False,
        help_text=_("They set how long it takes."),
    )
    light_kind = forms.ChoiceField(
        label=_("Light"),
        required=False,
        # Before there is a plan nobody knows which.
        choices=[("", _("no light")), *LightKind.choices[1:], (A_LIGHT, _("either light"))],
    )

    def __init__(self, *args: Any, site: Site, today: date, **kwargs: Any) -> None:
        super().__init__(*args, site=site, today=today, **kwargs)
        visit_types = VisitType.objects.bookable().filter(site=site)
        self.fields["visit_type"].queryset = visit_types  # type: ignore[attr-defined]
        self.with_cycles = frozenset(VisitType.objects.with_cycles().filter(site=site).values_list("pk", flat=True))
        self.fields["visit_type"].widget.with_cycles = self.with_cycles

    def clean(self) -> dict[str, Any]:
        """What was typed before another visit was picked does not count, and is not shown any more."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        visit_type = data.get("visit_type")
        if visit_type is not None and visit_type.pk not in self.with_cycles:
            for name in ("cycles", "light_kind"):
                self.errors.pop(name, None)
            data |= {"cycles": 0, "light_kind": ""}
        return data

    def visit(self) -> WantedVisit:
        data = self.cleaned_data
        return WantedVisit(data["visit_type"], data["cycles"] or 0, data["light_kind"])


def as_initial(wish: WaitingWish) -> dict[str, object]:
    """An entry as its form shows it."""
    names = ("person", "not_before", "over_by", "notice_hours", "since_on", "until_on")
    return {name: getattr(wish, name) for name in names} | {"weekdays": [int(day) for day in wish.weekdays]}


def form_for(later: Booking | None) -> type[WishForm]:
    return NewWishForm if later is None else WishForm

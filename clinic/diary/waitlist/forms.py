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


class NewWishForm(WishForm):
    """Of a visit that is not booked yet."""

    visit_type = forms.ModelChoiceField(
        VisitType.objects.none(), label=_("Visit"), empty_label=None, error_messages={"required": _("Pick the visit.")}
    )
    cycles = forms.IntegerField(
        label=_("Planned cycles"),
        min_value=1,
        max_value=6,
        required=False,
        help_text=_("Only for treatment sessions: they set how long it takes."),
    )
    light_kind = forms.ChoiceField(
        label=_("Light"),
        required=False,
        # Before there is a plan nobody knows which.
        choices=[("", _("no light")), *LightKind.choices[1:], (A_LIGHT, _("either light"))],
    )

    def __init__(self, *args: Any, site: Site, today: date, **kwargs: Any) -> None:
        super().__init__(*args, site=site, today=today, **kwargs)
        self.fields["visit_type"].queryset = VisitType.objects.bookable().filter(site=site)  # type: ignore[attr-defined]

    def visit(self) -> WantedVisit:
        data = self.cleaned_data
        return WantedVisit(data["visit_type"], data["cycles"] or 0, data["light_kind"])


def as_initial(wish: WaitingWish) -> dict[str, object]:
    """An entry as its form shows it."""
    names = ("person", "not_before", "over_by", "notice_hours", "since_on", "until_on")
    return {name: getattr(wish, name) for name in names} | {"weekdays": [int(day) for day in wish.weekdays]}


def form_for(later: Booking | None) -> type[WishForm]:
    return NewWishForm if later is None else WishForm

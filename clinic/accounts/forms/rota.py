"""A turn on call, in the days and times of the site's own clock."""

from datetime import UTC, date, datetime, time
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.actions.rota import TurnTooFarAway
from clinic.accounts.fields import NativeDate, NativeTime
from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, who_may
from clinic.accounts.rota import FURTHEST_AHEAD, LONGEST_AGO

_NO_DAY = {"required": _("Choose the day."), "invalid": _("Choose the day.")}
_NO_TIME = {"required": _("Type the time, such as 08:00."), "invalid": _("Type the time, such as 08:00.")}


def _day(label: Any) -> forms.DateField:
    return forms.DateField(label=label, input_formats=["%Y-%m-%d"], widget=NativeDate, error_messages=_NO_DAY)


def _time(label: Any) -> forms.TimeField:
    return forms.TimeField(label=label, input_formats=["%H:%M"], widget=NativeTime, error_messages=_NO_TIME)


class TurnForm(forms.Form):
    person = forms.ModelChoiceField(
        label=_("Who is on call"),
        queryset=User.objects.none(),
        empty_label=_("Choose"),
        error_messages={"required": _("Choose somebody.")},
    )
    from_day = _day(_("First day"))
    from_time = _time(_("from"))
    until_day = _day(_("Last day"))
    until_time = _time(_("until"))

    def __init__(self, *args: Any, site: Site, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.now = site, now
        able = [person.pk for person in who_may(Capability.REPLIES_READ, site)]
        self.fields["person"].queryset = User.objects.filter(pk__in=able)  # type: ignore[attr-defined]

    def clean_from_day(self) -> date:
        return self._near("from_day")

    def clean_until_day(self) -> date:
        return self._near("until_day")

    def _near(self, name: str) -> date:
        """To the day; the action knows the hour. The first and the last day there are have no moment in every zone."""
        day: date = self.cleaned_data[name]
        today = self.now.astimezone(self.site.zone).date()
        if not today - LONGEST_AGO <= day <= today + FURTHEST_AHEAD:
            raise forms.ValidationError(TurnTooFarAway.sentence)
        return day

    def span(self) -> tuple[datetime, datetime]:
        data = self.cleaned_data
        return self._instant(data["from_day"], data["from_time"]), self._instant(data["until_day"], data["until_time"])

    def _instant(self, day: date, at: time) -> datetime:
        """A time that the clocks leave out counts as if they had not been put forward yet."""
        return datetime.combine(day, at, tzinfo=self.site.zone).astimezone(UTC)

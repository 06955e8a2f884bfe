"""With whom, and which days and times suit: asked where a time is looked for, and where one is waited for."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import NativeTime
from clinic.accounts.models import Site
from clinic.diary.engine.wishes import Wishes
from clinic.diary.models import Resource, ResourceKind

WEEKDAYS = [
    (0, _("Monday")),
    (1, _("Tuesday")),
    (2, _("Wednesday")),
    (3, _("Thursday")),
    (4, _("Friday")),
    (5, _("Saturday")),
    (6, _("Sunday")),
]
INVALID_TIME = {"invalid": _("Write a time such as 9:00.")}


class TimesForm(forms.Form):
    """Nothing chosen: anyone suitable, any day, any time."""

    person = forms.ModelChoiceField(
        Resource.objects.none(), label=_("With"), required=False, empty_label=_("anyone suitable")
    )
    weekdays = forms.TypedMultipleChoiceField(
        label=_("Only on"), coerce=int, choices=WEEKDAYS, required=False, widget=forms.CheckboxSelectMultiple
    )
    not_before = forms.TimeField(label=_("Not before"), required=False, widget=NativeTime, error_messages=INVALID_TIME)
    over_by = forms.TimeField(label=_("Over by"), required=False, widget=NativeTime, error_messages=INVALID_TIME)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        people = Resource.objects.bookable().filter(site=site, kind=ResourceKind.PERSON)
        self.fields["person"].queryset = people  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("not_before"), cleaned.get("over_by")
        if first and last and last <= first:
            self.add_error("over_by", _("This must be later than “Not before”."))
        return cleaned

    def wishes(self) -> Wishes:
        data = self.cleaned_data
        return Wishes(frozenset(data["weekdays"]), data["not_before"], data["over_by"])

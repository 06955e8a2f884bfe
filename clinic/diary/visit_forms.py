"""Forms of the kinds of visit in Set-up."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.diary.actions.visit_types import PatientRules
from clinic.diary.models import VisitType


class MinutesForm(forms.Form):
    """One number per segment of a visit."""

    def __init__(self, *args: Any, visit_type: VisitType, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for segment in visit_type.segments.all():
            self.fields[f"segment_{segment.pk}"] = forms.IntegerField(
                label=segment.name,
                min_value=1,
                max_value=480,
                initial=segment.minutes,
                help_text=_("minutes for each cycle") if segment.per_cycle else _("minutes"),
            )

    def minutes(self) -> dict[int, int]:
        return {int(name.split("_")[1]): value for name, value in self.cleaned_data.items()}


class PatientsAloneForm(forms.Form):
    """Whether patients pick a time of this visit alone, how far ahead and with how much notice."""

    may_book = forms.BooleanField(label=gettext_lazy("A patient may pick a time alone"), required=False)
    days_ahead = forms.IntegerField(
        label=gettext_lazy("At most so many days ahead"),
        min_value=1,
        max_value=730,
        help_text=gettext_lazy("days, counted from the day on which the patient looks"),
    )
    notice_hours = forms.IntegerField(
        label=gettext_lazy("At least so many hours before"),
        min_value=0,
        max_value=24 * 14,
        help_text=gettext_lazy("hours; for anything sooner patients are asked to call"),
    )

    @classmethod
    def of(cls, visit_type: VisitType) -> "PatientsAloneForm":
        return cls(
            initial={
                "may_book": visit_type.patient_may_book,
                "days_ahead": visit_type.patient_days_ahead,
                "notice_hours": visit_type.patient_notice_hours,
            }
        )

    def rules(self) -> PatientRules:
        return PatientRules(**self.cleaned_data)

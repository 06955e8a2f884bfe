"""What a patient says about times that suit, and about why they cannot come."""

from datetime import date, time

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.diary.engine.wishes import Wishes
from clinic.diary.models import Why
from clinic.diary.suiting import WEEKDAYS

# When each part of a day begins, and when the visit is over: a patient's words, not the practice's hours.
NOON, ONE, FOUR = time(12), time(13), time(16)
PARTS = [
    ("", _("any time of the day")),
    ("morning", _("mornings: over by 13:00")),
    ("afternoon", _("afternoons: from 12:00 on")),
    ("late", _("late afternoons: from 16:00 on")),
]
_HOURS: dict[str, tuple[time | None, time | None]] = {
    "morning": (None, ONE),
    "afternoon": (NOON, None),
    "late": (FOUR, None),
}
# What a patient is asked: in their words, and never about health beyond "ill".
REASONS = [
    (Why.OTHER_DUTIES.value, _("I have something else that day")),
    (Why.ILL.value, _("I am ill")),
    (Why.MISUNDERSTOOD.value, _("I had mistaken the day or the time")),
    (Why.CHANGED_MIND.value, _("I do not want it now")),
    (Why.NOT_SAID.value, _("I would rather not say")),
]


class SuitsForm(forms.Form):
    """Nonsense in the address is no wish, so that a page always shows times."""

    weekdays = forms.TypedMultipleChoiceField(
        label=_("Only on"), coerce=int, choices=WEEKDAYS, required=False, widget=forms.CheckboxSelectMultiple
    )
    part = forms.ChoiceField(label=_("When in the day"), choices=PARTS, required=False, widget=forms.RadioSelect)
    from_on = forms.DateField(required=False, input_formats=["%Y-%m-%d"], widget=forms.HiddenInput)

    def wishes(self) -> Wishes:
        self.is_valid()
        not_before, over_by = _HOURS.get(self.cleaned_data.get("part", ""), (None, None))
        return Wishes(frozenset(self.cleaned_data.get("weekdays", ())), not_before, over_by)

    def first_on(self) -> date | None:
        self.is_valid()
        wanted: date | None = self.cleaned_data.get("from_on")
        # Outside these years the arithmetic of zones ends.
        return wanted if wanted is not None and 1970 <= wanted.year <= 2200 else None


class CannotComeForm(forms.Form):
    why = forms.ChoiceField(
        label=_("Why? You need not say."),
        choices=REASONS,
        required=False,
        widget=forms.RadioSelect,
        initial=Why.NOT_SAID.value,
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class SeenForm(forms.Form):
    """Which version of the visit stood on the page that was sent."""

    version = forms.IntegerField(required=False)

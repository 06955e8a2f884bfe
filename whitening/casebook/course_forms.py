"""Forms of a whole course: which visits it has, and the times that were picked for them together."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from clinic.diary.forms import DayForm, StartForm
from whitening.casebook.courses import SESSIONS_MOST, Missing


class CourseForm(DayForm):
    cleaning = forms.BooleanField(label=_("Scale and polish first"), required=False)
    sessions = forms.IntegerField(
        label=_("Whitening sessions"),
        min_value=0,
        max_value=SESSIONS_MOST,
        error_messages={"required": _("Write how many sessions: 0 for none.")},
    )
    review = forms.BooleanField(label=_("Month review"), required=False)
    # An unticked box sends nothing: this tells a form that was sent from a page that is opened.
    asked = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, sessions_before: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sessions_before = sessions_before

    def wanted(self) -> Missing:
        data = self.cleaned_data
        return Missing(
            cleaning=data["cleaning"],
            sessions=data["sessions"],
            review=data["review"],
            sessions_before=self.sessions_before,
        )


def asked_for(given: QueryDict, *, missing: Missing, from_on: date) -> QueryDict:
    """What is missing is ticked on a page that is opened; what somebody sent stays as it is."""
    asked = given.copy()
    if not asked.get("asked"):
        asked["asked"] = "1"
        asked.setdefault("sessions", str(missing.sessions))
        for name in ("cleaning", "review"):
            if getattr(missing, name):
                asked.setdefault(name, "on")
    if not asked.get("from_on"):
        asked["from_on"] = from_on.isoformat()
    return asked


def picked(value: str) -> list[datetime] | None:
    """The instants of one proposal, as the list wrote them; None for anything else."""
    forms_of = [StartForm({"start_at": one}) for one in value.split(",")]
    if not all(form.is_valid() for form in forms_of):
        return None
    return [form.cleaned_data["start_at"] for form in forms_of]


def shown(values: Iterable[str]) -> list[int]:
    """Ids of bookings that a page listed; what is no number is nobody's booking."""
    return [int(value) for value in values if value.isascii() and value.isdigit() and len(value) < len(str(2**31))]

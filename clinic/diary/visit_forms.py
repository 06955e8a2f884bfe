"""Forms of the kinds of visit in Set-up."""

from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.diary.actions.visit_types import PatientRules
from clinic.diary.models import Need, VisitType
from clinic.diary.segments import segments_of
from clinic.diary.standard import Claims, SegmentPlan
from clinic.diary.usual import measures

MOST_SEGMENTS = 12
OURS = _("set by the practice")
_FIXED, _PER_CYCLE = "", "per_cycle"
_CLINICIANS = {"": (), Need.CLINICIAN: ((Need.CLINICIAN, False),), Need.EXAMINER: ((Need.EXAMINER, False),)}
_LIGHTS: dict[str, Claims] = {
    "": (),
    "planned": ((Need.LIGHT_ANY, True),),
    "any": ((Need.LIGHT_ANY, False),),
    "hand_held": ((Need.LIGHT_HAND_HELD, False),),
    "arch": ((Need.LIGHT_ARCH, False),),
}


class SegmentForm(forms.Form):
    """One segment: how long it takes, and whom and what it binds meanwhile."""

    place = forms.IntegerField(label=_("Place in the order"), min_value=1, max_value=99, required=False)
    name = forms.CharField(label=_("Segment"), max_length=80)
    minutes = forms.IntegerField(label=_("Minutes"), min_value=1, max_value=480)
    counted = forms.ChoiceField(
        label=_("Counted"), required=False, choices=[(_FIXED, _("once")), (_PER_CYCLE, _("for each cycle of the plan"))]
    )
    room = forms.BooleanField(label=_("Room"), required=False)
    assistant = forms.BooleanField(label=_("Assistant"), required=False)
    clinician = forms.ChoiceField(
        label=_("Clinician"),
        required=False,
        choices=[
            ("", _("none: free for somebody else")),
            (Need.CLINICIAN, _("one who may carry it out")),
            (Need.EXAMINER, _("one who may examine and decide")),
        ],
    )
    light = forms.ChoiceField(
        label=_("Light"),
        required=False,
        choices=[
            ("", _("none")),
            ("planned", _("the plan’s, where it uses one")),
            ("any", _("any light")),
            ("hand_held", _("a hand-held light")),
            ("arch", _("an arch light")),
        ],
    )
    measured_as = forms.ChoiceField(
        label=_("Learned from"),
        required=False,
    )
    basis = forms.CharField(label=_("Where this length comes from"), max_length=120, required=False)
    gone = forms.BooleanField(label=_("Remove this segment"), required=False)

    def __init__(self, *args: Any, code: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = [(one.code, one.label) for one in measures(code)]
        if offered:
            self.fields["measured_as"].choices = [("", _("no: always this number")), *offered]  # type: ignore[attr-defined]
        else:
            del self.fields["measured_as"]

    def plan(self) -> SegmentPlan:
        data = self.cleaned_data
        needs: list[tuple[Need, bool]] = [(Need.ROOM, False)] if data["room"] else []
        needs += [(Need.ASSISTANT, False)] if data["assistant"] else []
        needs += [*_CLINICIANS[data["clinician"]], *_LIGHTS[data["light"]]]
        return SegmentPlan(
            data["name"],
            data["minutes"],
            tuple(needs),
            self._basis(),
            data["counted"] == _PER_CYCLE,
            data.get("measured_as", ""),
        )

    def _basis(self) -> str:
        """A number of one's own no longer comes from where the old one came from."""
        if "minutes" in self.changed_data and "basis" not in self.changed_data:
            return str(OURS)
        return str(self.cleaned_data["basis"] or OURS)


class Segments(forms.BaseFormSet[SegmentForm]):
    """All segments of a visit, with one empty one to add."""

    def plans(self) -> list[SegmentPlan]:
        """In the order of their places; one without a place comes last."""
        kept = [form for form in self.forms if form.cleaned_data and not form.cleaned_data["gone"]]
        return [form.plan() for form in sorted(kept, key=lambda form: form.cleaned_data["place"] or 100)]


_formset = forms.formset_factory(
    SegmentForm, formset=Segments, extra=1, max_num=MOST_SEGMENTS, absolute_max=MOST_SEGMENTS + 8, validate_max=True
)


def segment_forms(visit_type: VisitType, data: Any = None) -> Segments:
    rows = [_initial(place, one) for place, one in enumerate(segments_of(visit_type), 1)]
    return cast("Segments", _formset(data, initial=rows, prefix="segments", form_kwargs={"code": visit_type.code}))


def _initial(place: int, plan: SegmentPlan) -> dict[str, object]:
    needs = {need for need, _only in plan.needs}
    return {
        "place": place,
        "name": plan.name,
        "minutes": plan.minutes,
        "counted": _PER_CYCLE if plan.per_cycle else _FIXED,
        "room": Need.ROOM in needs,
        "assistant": Need.ASSISTANT in needs,
        "clinician": next((need for need in (Need.EXAMINER, Need.CLINICIAN) if need in needs), ""),
        "light": _light_of(plan.needs),
        "basis": plan.basis,
        "measured_as": plan.measured_as,
    }


def _light_of(needs: Iterable[tuple[Need, bool]]) -> str:
    """The choice that says the same."""
    claimed = {one for one in needs if one[0].startswith("light_")}
    return next((name for name, claims in _LIGHTS.items() if set(claims) == claimed), "planned")


class PatientsAloneForm(forms.Form):
    """What patients read it is; whether they pick a time of it alone, how far ahead and with how much notice."""

    name = forms.CharField(
        label=_("What patients read"),
        max_length=80,
        required=False,
        help_text=_(
            "In plain words, such as “Cleaning”: on their pages, in mails and calendars. Mails and calendars leave out "
            "a name that says what is treated, because they show on locked screens; texts never name a visit."
        ),
    )
    may_book = forms.BooleanField(label=_("A patient may pick a time alone"), required=False)
    days_ahead = forms.IntegerField(
        label=_("At most so many days ahead"),
        min_value=1,
        max_value=730,
        help_text=_("days, counted from the day on which the patient looks"),
    )
    notice_hours = forms.IntegerField(
        label=_("At least so many hours before"),
        min_value=0,
        max_value=24 * 14,
        help_text=_("hours; for anything sooner patients are asked to call"),
    )
    may_move = forms.BooleanField(
        label=_("A patient may move it alone"),
        required=False,
        help_text=_("a visit that is booked already, by the link in its messages; within the same limits"),
    )

    @classmethod
    def of(cls, visit_type: VisitType) -> "PatientsAloneForm":
        return cls(
            initial={
                "name": visit_type.patient_name,
                "may_book": visit_type.patient_may_book,
                "days_ahead": visit_type.patient_days_ahead,
                "notice_hours": visit_type.patient_notice_hours,
                "may_move": visit_type.patient_may_move,
            }
        )

    def rules(self) -> PatientRules:
        return PatientRules(**self.cleaned_data)

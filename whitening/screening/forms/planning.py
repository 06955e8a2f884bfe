"""The plan: filled in with the one in force, or with what is usual and what the examination leaves out."""

from collections.abc import Collection
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from whitening.cases.models import Case, Isolation, Plan, PlannedLight, Price, Product, ProductKind
from whitening.screening.actions import PlanDetails
from whitening.screening.examination import Examination
from whitening.screening.forms.examining import teeth_in_order
from whitening.screening.teeth import WHITENING_RANGE, tooth

# Numbers have to start somewhere; the maker's limits are asked when the plan is recorded.
_USUAL = _("Usual: common practice, no source.")


class PlanForm(forms.Form):
    """A first plan has no gel, arch, light or isolation chosen beforehand.

    The usual numbers are filled in, and the teeth that the examination says to leave out are.
    """

    based_on = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=32_000)
    product = forms.ModelChoiceField(
        Product.objects.none(),
        label=_("Gel"),
        empty_label=_("pick the gel"),
        error_messages={"required": _("Pick the gel.")},
    )
    arches = forms.MultipleChoiceField(
        label=_("Arches"),
        choices=[("upper", _("upper arch")), ("lower", _("lower arch"))],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one arch.")},
    )
    teeth_left_out = forms.MultipleChoiceField(
        label=_("Teeth left out"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("They stay as they are; the consent and the chairside name them."),
    )
    sessions = forms.IntegerField(label=_("Sessions"), min_value=1, max_value=6, initial=1, help_text=_USUAL)
    cycles_per_session = forms.IntegerField(
        label=_("Cycles in a session"), min_value=1, max_value=6, initial=4, help_text=_USUAL
    )
    minutes_per_cycle = forms.IntegerField(
        label=_("Minutes in a cycle"), min_value=1, max_value=60, initial=15, help_text=_USUAL
    )
    least_days_between = forms.IntegerField(
        label=_("Least days between sessions"), min_value=2, max_value=60, initial=7, help_text=_USUAL
    )
    light = forms.ChoiceField(
        label=_("Light"),
        choices=PlannedLight.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the light, or that none is used.")},
    )
    isolation = forms.ChoiceField(
        label=_("Isolation"),
        choices=Isolation.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick how the gums are protected.")},
    )
    fee = forms.DecimalField(label=_("Fee"), min_value=0, max_digits=9, decimal_places=2)
    expectation = forms.CharField(
        label=_("What was said about the likely result"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(
        self, *args: Any, case: Case, held: Plan | None, examined: Examination | None = None, **kwargs: Any
    ) -> None:
        kwargs["initial"] = _usual(case, examined) if held is None else _as_held(held)
        super().__init__(*args, **kwargs)
        self.left_out_at_first = _named(kwargs["initial"]["teeth_left_out"], examined)
        # The examination may be newer than the plan that is changed.
        self.treated_still = _named(set(_to_leave_out(examined)) - set(kwargs["initial"]["teeth_left_out"]), examined)
        gels = Product.objects.filter(kind=ProductKind.GEL, active=True)
        self.fields["product"].queryset = gels  # type: ignore[attr-defined]  # a model field, as declared above
        self.fields["teeth_left_out"].choices = [  # type: ignore[attr-defined]  # a field with choices, as above
            (number, _label(number, examined)) for number in teeth_in_order()
        ]

    def details(self) -> PlanDetails:
        data = self.cleaned_data
        return PlanDetails(
            product=data["product"],
            upper_arch="upper" in data["arches"],
            lower_arch="lower" in data["arches"],
            teeth_left_out=tuple(data["teeth_left_out"]),
            sessions=data["sessions"],
            cycles_per_session=data["cycles_per_session"],
            minutes_per_cycle=data["minutes_per_cycle"],
            least_days_between=data["least_days_between"],
            light=PlannedLight(data["light"]),
            isolation=Isolation(data["isolation"]),
            fee=data["fee"],
            expectation=data["expectation"],
        )


def _to_leave_out(examined: Examination | None) -> list[str]:
    """Only teeth that would get gel."""
    found = examined.to_leave_out() if examined else ()
    return [number for number in teeth_in_order() if number in found and number in WHITENING_RANGE]


def _label(number: str, examined: Examination | None) -> str:
    """With what was found, so that nobody has to look it up."""
    found = [str(trouble.label) for trouble in examined.troubles_of(number)] if examined else []
    return f"{tooth(number).label}: {', '.join(found)}" if found else str(tooth(number).label)


def _named(numbers: Collection[str], examined: Examination | None) -> list[str]:
    return [_label(number, examined) for number in teeth_in_order() if number in numbers]


def _usual(case: Case, examined: Examination | None) -> dict[str, Any]:
    price = Price.objects.filter(site=case.site, active=True).order_by("sessions", "pk").first()
    fee = price.amount if price else None
    start = {"based_on": 0, "cycles_per_session": case.expected_cycles, "fee": fee}
    return start | {"teeth_left_out": _to_leave_out(examined)}


def _as_held(plan: Plan) -> dict[str, Any]:
    """A changed plan starts from the one that is changed."""
    arches = {"upper": plan.upper_arch, "lower": plan.lower_arch}
    same = ("sessions", "cycles_per_session", "minutes_per_cycle", "least_days_between", "light", "isolation", "fee")
    return {name: getattr(plan, name) for name in (*same, "expectation", "teeth_left_out")} | {
        "based_on": plan.version,
        "product": plan.product_id,
        "arches": [name for name, planned in arches.items() if planned],
    }

"""Forms of the clinician: examination, decision, plan."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.diary.forms import DATE_FORMATS
from whitening.cases.models import Case, Isolation, PlannedLight, Price, Product, ProductKind
from whitening.screening.actions import PlanDetails
from whitening.screening.decisions import KIND_LABELS
from whitening.screening.examination import (
    ITEM_LABELS,
    PERIODONTITIS_LABELS,
    TROUBLE_LABELS,
    Examination,
    Gums,
    Item,
    Periodontitis,
    SoftTissue,
    ToothFinding,
    Trouble,
)
from whitening.screening.grades import Profession
from whitening.screening.teeth import Arch, arch_order, tooth


class ExaminationForm(forms.Form):
    """Items looked at, gums and soft tissue; what was found on single teeth comes from fields named by tooth."""

    looked_at = forms.MultipleChoiceField(
        label=_("Looked at today"),
        choices=list(ITEM_LABELS.items()),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("What is not ticked counts as not looked at, not as free of findings."),
    )
    inflamed = forms.BooleanField(label=_("Gums bleed or are inflamed"), required=False)
    periodontitis = forms.ChoiceField(label=_("Periodontitis"), choices=list(PERIODONTITIS_LABELS.items()))
    sore = forms.BooleanField(label=_("Ulcer, sore or burn in the mouth"), required=False)
    suspicious = forms.BooleanField(label=_("Patch or lump that has to be looked into"), required=False)
    cold_sore = forms.BooleanField(label=_("Cold sore"), required=False)
    deposits = forms.BooleanField(label=_("Stain or calculus"), required=False)
    cleaned_on = forms.DateField(label=_("Last cleaning"), required=False, input_formats=DATE_FORMATS)
    note = forms.CharField(label=_("Note"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in teeth_in_order():
            self.fields[f"tooth_{number}"] = forms.MultipleChoiceField(
                label=tooth(number).label,
                choices=list(TROUBLE_LABELS.items()),
                widget=forms.CheckboxSelectMultiple,
                required=False,
            )
            self.fields[f"restored_{number}"] = forms.DateField(
                label=_("Newest filling or crown placed on"), required=False, input_formats=DATE_FORMATS
            )

    def teeth(self) -> Iterator[tuple[str, forms.BoundField, forms.BoundField]]:
        """(number, what was found, restored on) for each tooth in the order of the arches."""
        for number in teeth_in_order():
            yield number, self[f"tooth_{number}"], self[f"restored_{number}"]

    def examination(self, *, now: datetime, site: Site, profession: str) -> Examination:
        data = self.cleaned_data
        return Examination(
            examined_at=now,
            examined_on=now.astimezone(site.zone).date(),
            profession=Profession(profession),
            looked_at=frozenset(Item(one) for one in data["looked_at"]),
            teeth=tuple(self._teeth_found()),
            gums=Gums(data["inflamed"], Periodontitis(data["periodontitis"])),
            soft_tissue=SoftTissue(data["sore"], data["suspicious"], data["cold_sore"]),
            deposits=data["deposits"],
            cleaned_on=data["cleaned_on"],
        )

    def _teeth_found(self) -> Iterator[ToothFinding]:
        for number in teeth_in_order():
            troubles = frozenset(Trouble(one) for one in self.cleaned_data[f"tooth_{number}"])
            restored_on = self.cleaned_data[f"restored_{number}"]
            if troubles or restored_on:
                yield ToothFinding(number, troubles, restored_on)


def teeth_in_order() -> list[str]:
    """Adult teeth, upper arch then lower, each from the patient's right to left."""
    return [*arch_order(Arch.UPPER), *arch_order(Arch.LOWER)]


class DecisionForm(forms.Form):
    rule = forms.CharField(widget=forms.HiddenInput, max_length=12)
    basis = forms.CharField(widget=forms.HiddenInput, max_length=200)
    kind = forms.ChoiceField(
        label=_("Decision"),
        choices=list(KIND_LABELS.items()),
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the decision.")},
    )
    reason = forms.CharField(label=_("Why"), max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 2}))
    evidence = forms.CharField(
        label=_("Evidence"),
        max_length=1000,
        required=False,
        help_text=_("What was examined or which letter was read, and its date."),
    )


class PlanForm(forms.Form):
    """The plan, filled in with what is usual; every default is common practice, no source, and can be changed."""

    product = forms.ModelChoiceField(
        Product.objects.none(), label=_("Gel"), empty_label=None, error_messages={"required": _("Pick the gel.")}
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
    sessions = forms.IntegerField(label=_("Sessions"), min_value=1, max_value=6, initial=1)
    cycles_per_session = forms.IntegerField(label=_("Cycles in a session"), min_value=1, max_value=6, initial=4)
    minutes_per_cycle = forms.IntegerField(label=_("Minutes in a cycle"), min_value=1, max_value=60, initial=15)
    least_days_between = forms.IntegerField(
        label=_("Least days between sessions"), min_value=2, max_value=60, initial=7
    )
    light = forms.ChoiceField(label=_("Light"), choices=PlannedLight.choices, initial=PlannedLight.NONE)
    isolation = forms.ChoiceField(label=_("Isolation"), choices=Isolation.choices, initial=Isolation.RESIN_BARRIER)
    fee = forms.DecimalField(label=_("Fee"), min_value=0, max_digits=9, decimal_places=2)
    expectation = forms.CharField(
        label=_("What was said about the likely result"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, case: Case, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        gels = Product.objects.filter(kind=ProductKind.GEL, active=True)
        self.fields["product"].queryset = gels  # type: ignore[attr-defined]
        self.fields["teeth_left_out"].choices = [  # type: ignore[attr-defined]
            (number, tooth(number).label) for number in teeth_in_order()
        ]
        price = Price.objects.filter(site=case.site, active=True).order_by("sessions", "pk").first()
        self.fields["fee"].initial = price.amount if price else None

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

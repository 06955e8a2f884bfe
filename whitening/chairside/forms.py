"""What is typed about materials and lights."""

from datetime import date

from django import forms
from django.utils.translation import gettext_lazy as _

from whitening.cases.models import Product
from whitening.chairside.actions import LightDetails, Received
from whitening.chairside.models import Batch, LightUnit


class BatchForm(forms.Form):
    product = forms.ModelChoiceField(label=_("Product"), queryset=Product.objects.none())
    number = forms.CharField(label=_("Batch number, as printed"), max_length=Batch._meta.get_field("number").max_length)
    expires_on = forms.DateField(label=_("Use until"), widget=forms.DateInput(attrs={"type": "date"}))
    quantity = forms.IntegerField(label=_("How many"), min_value=1, max_value=100_000)
    unit = forms.CharField(label=_("Of what"), max_length=40, help_text=_("For example: syringes, kits"))

    def __init__(self, *args: object, today: date, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # handed on as they came
        self.today = today
        self.fields["product"].queryset = Product.objects.filter(active=True)  # type: ignore[attr-defined]  # as above

    def clean_expires_on(self) -> date:
        expires_on: date = self.cleaned_data["expires_on"]
        if expires_on < self.today:
            raise forms.ValidationError(_("This batch has expired already. Check the date; do not take it into use."))
        return expires_on

    def received(self) -> Received:
        return Received(**self.cleaned_data)


class WhyForm(forms.Form):
    why = forms.CharField(label=_("Why"), max_length=300, widget=forms.Textarea(attrs={"rows": 2}))


class WasteForm(forms.Form):
    quantity = forms.IntegerField(label=_("How many were wasted"), min_value=1, max_value=100_000)


class CheckForm(forms.Form):
    output_mw_cm2 = forms.IntegerField(label=_("Measured output, mW/cm²"), min_value=0, max_value=20_000)
    distance_mm = forms.IntegerField(label=_("At a distance of, mm"), min_value=0, max_value=500)


class LightForm(forms.ModelForm[LightUnit]):
    class Meta:
        model = LightUnit
        fields = (
            "serial",
            "output_least_mw_cm2",
            "output_most_mw_cm2",
            "probe_distance_mm",
            "service_due_on",
            "out_of_use_since",
            "heat_warning",
        )
        widgets = {
            "service_due_on": forms.DateInput(attrs={"type": "date"}),
            "out_of_use_since": forms.DateInput(attrs={"type": "date"}),
        }

    def details(self) -> LightDetails:
        return LightDetails(**self.cleaned_data)

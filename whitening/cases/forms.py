"""What a manager types about products and prices. Beside each field stands what is wrong with it."""

from dataclasses import asdict
from decimal import Decimal
from typing import Any, Self

from django import forms
from django.utils.translation import gettext_lazy as _

from whitening.cases.actions.setting_up import PriceDetails, price_details, product_details
from whitening.cases.labels import Label, LabelRefused, ProductDetails, open_limits, strength_of
from whitening.cases.models import Basis, Peroxide, Price, Product, ProductKind
from whitening.cases.peroxide import Strength

# Bounds of a plan, which copies these numbers. Common practice, no source.
MOST_CYCLES, MOST_SESSIONS, MOST_CYCLE_MINUTES = 6, 6, 60
MOST_MIX_LIFE_MINUTES = 480


class ProductForm(forms.Form):
    name = forms.CharField(label=_("Name, as your practice calls it"), max_length=120)
    kind = forms.ChoiceField(label=_("What is it"), choices=ProductKind.choices, widget=forms.RadioSelect)
    peroxide = forms.ChoiceField(label=_("Peroxide"), choices=Peroxide.choices, widget=forms.RadioSelect)
    label_percent = forms.DecimalField(
        label=_("% on the label"),
        required=False,
        min_value=0,
        max_value=100,
        max_digits=5,
        decimal_places=2,
        help_text=_("Wherever there is a peroxide."),
    )
    label_basis = forms.ChoiceField(
        label=_("That % holds"),
        required=False,
        choices=[(choice.value, choice.label) for choice in (Basis.AS_USED, Basis.BEFORE_MIXING)],
        widget=forms.RadioSelect,
        help_text=_("See on the label or ask the maker; it is never assumed."),
    )
    needs_mixing = forms.BooleanField(label=_("It is mixed at the chair"), required=False)
    mix_parts = forms.DecimalField(
        label=_("Parts of the peroxide"), required=False, min_value=Decimal("0.01"), max_digits=6, decimal_places=2
    )
    mix_other_parts = forms.DecimalField(
        label=_("Parts of what is mixed in"), required=False, min_value=0, max_digits=6, decimal_places=2
    )
    mix_density_g_ml = forms.DecimalField(
        label=_("Density of the peroxide part, g/mL"),
        required=False,
        min_value=Decimal("0.1"),
        max_digits=5,
        decimal_places=3,
        help_text=_("Only for parts by volume; leave both empty for parts by mass."),
    )
    mix_other_density_g_ml = forms.DecimalField(
        label=_("Density of what is mixed in, g/mL"),
        required=False,
        min_value=Decimal("0.1"),
        max_digits=5,
        decimal_places=3,
    )
    mix_life_minutes = forms.IntegerField(
        label=_("Use within, minutes after mixing"),
        required=False,
        min_value=1,
        max_value=MOST_MIX_LIFE_MINUTES,
        help_text=_("For everything that is mixed."),
    )
    cycle_minutes_most = forms.IntegerField(
        label=_("Longest time on the teeth, minutes"),
        required=False,
        min_value=1,
        max_value=MOST_CYCLE_MINUTES,
        help_text=_("For every gel."),
    )
    cycles_most = forms.IntegerField(
        label=_("Most cycles in one session"),
        required=False,
        min_value=1,
        max_value=MOST_CYCLES,
        help_text=_("For every gel."),
    )
    light_allowed = forms.BooleanField(label=_("The maker allows a light"), required=False)
    instructions_revision = forms.CharField(
        label=_("Maker's instructions, revision"), required=False, max_length=60, help_text=_("As printed on them.")
    )
    active = forms.BooleanField(
        label=_("In use"), required=False, help_text=_("Out of use, it is offered for no new plan.")
    )
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    @classmethod
    def of(cls, product: Product) -> Self:
        values = asdict(product_details(product)) | {"seen_version": product.version}
        # The form asks of what the % holds; where there is none, nothing is chosen.
        return cls(initial=values | ({"label_basis": ""} if product.label_basis == Basis.NONE else {}))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        details = self.details()
        refusals = {one.field: one for one in open_limits(details)}
        try:
            strength_of(details)
        except LabelRefused as refusal:
            refusals[refusal.field] = refusal
        for field, why in refusals.items():
            self.add_error(field, str(why))
        return cleaned

    def details(self) -> ProductDetails:
        return ProductDetails(**self._typed(ProductDetails))

    def strength(self) -> Strength | str:
        """What follows from the label as it is typed so far, or the sentence that says what is still open."""
        if any(not self.data.get(name) for name in ("kind", "peroxide")):
            return str(_("Choose what it is and which peroxide it holds; the strength as used is worked out here."))
        for name in Label.__dataclass_fields__:
            if name in self.errors:
                return str(self.errors[name][0])
        try:
            found = strength_of(Label(**self._typed(Label)))
        except LabelRefused as refusal:
            return str(refusal)
        return found or str(_("It holds no peroxide, so there is no strength to work out."))

    def _typed(self, kind: type[Label]) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in kind.__dataclass_fields__}


class PriceForm(forms.Form):
    name = forms.CharField(label=_("What is charged for"), max_length=120)
    sessions = forms.IntegerField(label=_("Sessions in it"), min_value=1, max_value=MOST_SESSIONS, initial=1)
    amount = forms.DecimalField(min_value=0, max_digits=9, decimal_places=2)
    active = forms.BooleanField(
        label=_("In use"),
        required=False,
        initial=True,
        help_text=_("Out of use, it is offered for no new plan; plans and quotes keep it."),
    )
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = _("Amount in %(currency)s") % {"currency": currency}

    @classmethod
    def of(cls, price: Price) -> Self:
        initial = asdict(price_details(price)) | {"seen_version": price.version}
        return cls(initial=initial, currency=price.site.currency)

    def details(self) -> PriceDetails:
        return PriceDetails(**{name: self.cleaned_data[name] for name in PriceDetails.__dataclass_fields__})

"""The examination: what was looked at, gums and soft tissue, and what was found on single teeth."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.fields import NativeDate
from clinic.accounts.models import Site
from clinic.diary.forms import DATE_FORMATS
from whitening.screening.examination import (
    ITEM_LABELS,
    PERIODONTITIS_LABELS,
    TROUBLE_LABELS,
    Examination,
    Gums,
    Item,
    Look,
    Periodontitis,
    SoftTissue,
    ToothFinding,
    Trouble,
)
from whitening.screening.grades import Profession
from whitening.screening.teeth import Arch, arch_order, quarters, teeth, tooth

# Who writes down a finding has looked: it would be lost behind an unticked box otherwise.
ITEM_OF = {
    Trouble.DECAY: Item.DECAY,
    Trouble.FAULTY_RESTORATION: Item.RESTORATIONS,
    Trouble.PAINFUL_CRACK: Item.CRACKS,
    Trouble.BARE_DENTINE: Item.DENTINE,
    Trouble.BARE_DENTINE_NOT_COVERABLE: Item.DENTINE,
    Trouble.SICK_PULP: Item.PULP,
    Trouble.SHOWS_RESTORATION: Item.RESTORATIONS,
    Trouble.ACRYLIC: Item.RESTORATIONS,
    Trouble.AMALGAM: Item.RESTORATIONS,
    Trouble.CRAZE_LINES: Item.CRACKS,
    Trouble.DARK_TOOTH: Item.COLOUR,
    Trouble.FLECKS: Item.ENAMEL,
}


@dataclass(frozen=True, slots=True)
class ToothRow:
    """One tooth on the page: its place in the arch picture and its two fields."""

    number: str
    label: StrOrPromise
    found: forms.BoundField
    restored: forms.BoundField

    @property
    def has_entry(self) -> bool:
        return bool(self.found.value() or self.restored.value() or self.found.errors or self.restored.errors)


class PastDateField(forms.DateField):
    """A day up to today; `today` is set by the form."""

    widget = NativeDate
    today: date | None = None

    def __init__(self, **options: Any) -> None:
        super().__init__(required=False, input_formats=DATE_FORMATS, **options)

    def validate(self, value: date | None) -> None:
        super().validate(value)
        if value is not None and self.today is not None and value > self.today:
            raise forms.ValidationError(_("This day has not come yet. Give a day up to today."))


class LookedForField(forms.ChoiceField):
    """Empty until somebody picks; the form says when it has to be picked, so it is never called optional."""

    widget = forms.RadioSelect

    def validate(self, value: str) -> None:
        if value:
            super().validate(value)


class ExaminationForm(forms.Form):
    """Nothing is ticked beforehand: what nobody looked at stays open, and is never "no"."""

    everything = forms.BooleanField(
        label=_("I looked at everything today"),
        required=False,
        help_text=_("Teeth, fillings, gums, tongue, cheeks, lips, and the list of medicines."),
    )
    looked_at = forms.MultipleChoiceField(
        label=_("Looked at today"),
        choices=list(ITEM_LABELS.items()),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("What is not ticked stays open and is not counted as free of findings."),
    )
    inflamed = forms.BooleanField(label=_("Gums bleed or are inflamed"), required=False)
    periodontitis = LookedForField(
        label=_("Periodontitis"),
        choices=list(PERIODONTITIS_LABELS.items()),
        help_text=_("To be picked whenever the gums were looked at."),
    )
    sore = forms.BooleanField(label=_("Ulcer, sore or burn in the mouth"), required=False)
    suspicious = forms.BooleanField(label=_("Patch or lump that has to be looked into"), required=False)
    cold_sore = forms.BooleanField(label=_("Cold sore"), required=False)
    cracked_lips = forms.BooleanField(label=_("Cracked lips or corners of the mouth"), required=False)
    grey = forms.BooleanField(label=_("Grey or blue-grey base colour"), required=False)
    light = forms.BooleanField(label=_("Already lighter than A2"), required=False)
    defect = forms.BooleanField(label=_("Inherited defect of enamel or dentine"), required=False)
    adhesive_work_soon = forms.BooleanField(
        label=_("Filling, veneer or bracket planned within 14 days after the course"), required=False
    )
    deposits = forms.BooleanField(label=_("Stain or calculus"), required=False)
    cleaned_on = PastDateField(label=_("Last cleaning"))
    milk_teeth = forms.MultipleChoiceField(
        label=_("Milk teeth that are still there"), required=False, widget=forms.CheckboxSelectMultiple
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["milk_teeth"].choices = [  # type: ignore[attr-defined]  # a field with choices, as declared above
            (number, one.label) for number, one in teeth().items() if one.milk
        ]
        for number in teeth_in_order():
            self.fields[f"tooth_{number}"] = forms.MultipleChoiceField(
                label=tooth(number).label,
                choices=list(TROUBLE_LABELS.items()),
                widget=forms.CheckboxSelectMultiple,
                required=False,
            )
            self.fields[f"restored_{number}"] = PastDateField(label=_("Newest filling or crown placed on"))
        for field in self.fields.values():
            if isinstance(field, PastDateField):
                field.today = today

    def arches(self) -> list[tuple[StrOrPromise, list[tuple[StrOrPromise, list[ToothRow]]]]]:
        """Each arch in its two named quarters, with the teeth in the order of the picture."""
        return [
            (arch.label, [(label, [self._row(number) for number in numbers]) for label, numbers in quarters(arch)])
            for arch in Arch
        ]

    def _row(self, number: str) -> ToothRow:
        return ToothRow(number, tooth(number).label, self[f"tooth_{number}"], self[f"restored_{number}"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not (self.errors or self._looked()):
            self.add_error("looked_at", _("Tick what you looked at, or that you looked at everything."))
        elif not self.errors and Item.GUMS in self._looked() and not cleaned["periodontitis"]:
            self.add_error("periodontitis", _("Pick what you found; nothing picked would not mean “none”."))
        return cleaned

    def examination(self, *, now: datetime, site: Site, profession: str) -> Examination:
        data = self.cleaned_data
        return Examination(
            examined_at=now,
            examined_on=now.astimezone(site.zone).date(),
            profession=Profession(profession),
            looked_at=frozenset(self._looked()),
            teeth=tuple(self._teeth_found()),
            milk_teeth=tuple(data["milk_teeth"]),
            # Nothing picked is possible only where the gums stay open: then nobody reads it.
            gums=Gums(data["inflamed"], Periodontitis(data["periodontitis"] or Periodontitis.NONE)),
            soft_tissue=SoftTissue(data["sore"], data["suspicious"], data["cold_sore"], data["cracked_lips"]),
            look=Look(data["defect"], data["grey"], data["light"], data["adhesive_work_soon"]),
            deposits=data["deposits"],
            cleaned_on=data["cleaned_on"],
        )

    def _looked(self) -> set[Item]:
        data = self.cleaned_data
        if data["everything"]:
            return set(Item)
        looked = {Item(one) for one in data["looked_at"]} | set(self._implied())
        for found in self._teeth_found():
            looked |= {ITEM_OF[trouble] for trouble in found.troubles}
            looked |= {Item.RESTORATIONS} if found.restored_on else set()
        return looked

    def _implied(self) -> Iterator[Item]:
        data = self.cleaned_data
        entries = {
            Item.GUMS: data["inflamed"] or data["periodontitis"],
            Item.SOFT_TISSUE: data["sore"] or data["suspicious"],
            Item.LIPS: data["cold_sore"] or data["cracked_lips"],
            Item.COLOUR: data["grey"] or data["light"],
            Item.ENAMEL: data["defect"],
            Item.RESTORATIONS: data["adhesive_work_soon"],
            Item.DEPOSITS: data["deposits"],
            Item.MILK_TEETH: data["milk_teeth"],
        }
        return (item for item, entered in entries.items() if entered)

    def _teeth_found(self) -> Iterator[ToothFinding]:
        for number in teeth_in_order():
            troubles = frozenset(Trouble(one) for one in self.cleaned_data[f"tooth_{number}"])
            restored_on = self.cleaned_data[f"restored_{number}"]
            if troubles or restored_on:
                yield ToothFinding(number, troubles, restored_on)


def teeth_in_order() -> list[str]:
    """Adult teeth, upper arch then lower, each from the patient's right to left."""
    return [*arch_order(Arch.UPPER), *arch_order(Arch.LOWER)]

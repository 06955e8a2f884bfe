"""What a manager writes over a local rule. The reader of the program's own file judges it: one reader for both."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Final, Self

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import NativeDate
from whitening.screening.actions import OwnRuleDetails
from whitening.screening.grades import QUALITY_LABELS, Profession, Quality
from whitening.screening.jurisdictions import LAW, LOCAL, POLICY, JurisdictionRefused
from whitening.screening.models import LocalRuleChange
from whitening.screening.models.local_rules import REASON_LENGTH
from whitening.screening.own_rules import BONDS, EDITABLE

_PEOPLE: Final = [(str(one), one.label) for one in Profession if one is not Profession.OTHER]
_MAY_NOT: Final = "may_not"
_BOND_WORDS: Final = [
    (_MAY_NOT, _("may not")),
    ("may_carry_out", _("may on their own")),
    ("on_prescription", _("may on prescription")),
    ("under_supervision", _("may under supervision")),
]
_FIGURE: Final = {"inputmode": "decimal", "autocomplete": "off"}
_WHOLE: Final = {"inputmode": "numeric", "autocomplete": "off"}


def _bond(one: Profession) -> str:
    return f"bond_{one}"


class LocalRuleForm(forms.Form):
    """Figures are typed as text: what is wrong with them, the reader of the rows says."""

    seen_version = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=1_000_000)
    hp_cap_percent = forms.CharField(
        label=_("At most, % hydrogen peroxide as used"),
        required=False,
        max_length=8,
        widget=forms.TextInput(attrs=_FIGURE),
        help_text=_("Leave it empty only where no limit is known."),
    )
    cap_basis = forms.CharField(label=_("What that % counts"), max_length=80)
    carbamide_pair_percent = forms.CharField(
        label=_("% carbamide peroxide that the authority pairs with it"),
        required=False,
        max_length=8,
        widget=forms.TextInput(attrs=_FIGURE),
        help_text=_("Kept for the record; nothing is computed from it."),
    )
    min_age = forms.CharField(label=_("Age, full years"), max_length=3, widget=forms.TextInput(attrs=_WHOLE))
    age_basis = forms.ChoiceField(
        label=_("That age stands"),
        choices=[(LAW, _("in law")), (POLICY, _("in no law: a policy"))],
        widget=forms.RadioSelect,
    )
    may_examine = forms.MultipleChoiceField(
        label=_("Who may examine and plan"),
        choices=_PEOPLE,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Name at least one profession.")},
    )
    may_prescribe = forms.MultipleChoiceField(
        label=_("Who may prescribe"), choices=_PEOPLE, required=False, widget=forms.CheckboxSelectMultiple
    )
    exam_basis = forms.ChoiceField(
        label=_("An examination in every course"),
        choices=[(LOCAL, _("is asked for by the local rules")), (POLICY, _("is this program's policy"))],
        widget=forms.RadioSelect,
    )
    cooling_off_days = forms.CharField(
        label=_("Days between talk and signature"), max_length=3, widget=forms.TextInput(attrs=_WHOLE)
    )
    clinician_in_cycles = forms.ChoiceField(
        label=_("Through the cycles a clinician"),
        choices=[("yes", _("stays with the patient")), ("unsettled", _("may leave: no rule was found"))],
        widget=forms.RadioSelect,
    )
    instrument = forms.CharField(
        label=_("Law or guidance, by name"), max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 4}))
    reason = forms.CharField(label=_("Why it is changed or kept"), max_length=REASON_LENGTH)
    source = forms.CharField(
        label=_("Where you looked it up"),
        max_length=REASON_LENGTH,
        help_text=_("Who wrote it, which text, of which date."),
    )
    quality = forms.ChoiceField(
        label=_("How it was looked up"),
        choices=[(str(one), QUALITY_LABELS[one]) for one in Quality],
        widget=forms.RadioSelect,
    )
    checked_on = forms.DateField(label=_("Checked on"), widget=NativeDate())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for one in Profession:
            self.fields[_bond(one)] = forms.ChoiceField(label=_sentence_case(one), choices=_BOND_WORDS)

    @classmethod
    def of(cls, columns: Mapping[str, str], *, held: LocalRuleChange | None, checked_on: date) -> Self:
        """Reason and source are written anew for each change, so a first page holds neither."""
        return cls(initial=_initial(columns) | {"seen_version": held.version if held else 0, "checked_on": checked_on})

    @classmethod
    def as_saved(cls, columns: Mapping[str, str], held: LocalRuleChange) -> Self:
        """To be shown beside what somebody else typed over an older one."""
        about = {name: getattr(held, name) for name in ("reason", "source", "quality", "checked_on")}
        return cls(initial=_initial(columns) | about)

    @property
    def bonds(self) -> list[forms.BoundField]:
        return [self[_bond(one)] for one in Profession]

    def details(self) -> OwnRuleDetails:
        typed = self.cleaned_data
        values = {name: _column(typed[name]) for name in EDITABLE if name not in BONDS}
        values |= {name: _column(str(one) for one in Profession if typed[_bond(one)] == name) for name in BONDS}
        return OwnRuleDetails(
            values=values,
            reason=typed["reason"],
            source=typed["source"],
            quality=Quality(typed["quality"]),
            checked_on=typed["checked_on"],
        )

    def take(self, faults: Iterable[JurisdictionRefused]) -> None:
        """Each beside its field; what is about several of them, on top."""
        for fault in faults:
            self.add_error(fault.column if fault.column in self.fields else None, str(fault.sentence))


def _initial(columns: Mapping[str, str]) -> dict[str, Any]:
    lists = {name: columns[name].split() for name in ("may_examine", "may_prescribe")}
    bonds = {_bond(Profession(one)): name for name in BONDS for one in columns[name].split()}
    return {**columns, **lists, **dict.fromkeys(map(_bond, Profession), _MAY_NOT), **bonds}


def _column(value: str | Iterable[str]) -> str:
    """In one line, as the file has it."""
    return " ".join(value.split() if isinstance(value, str) else value)


def _sentence_case(one: Profession) -> str:
    words = str(one.label)
    return words[:1].upper() + words[1:]

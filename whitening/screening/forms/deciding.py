"""A decision about one finding, and about what was new on the day."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.documents.models import IncomingPaper
from whitening.screening.decisions import KIND_LABELS, DecisionKind, kinds_for
from whitening.screening.outcome import Finding


def paper_name(paper: IncomingPaper) -> str:
    said = [str(paper.get_kind_display()), paper.sender, day_words(paper.dated_on) if paper.dated_on else ""]
    return ", ".join(part for part in said if part)


class DecisionForm(forms.Form):
    rule = forms.CharField(widget=forms.HiddenInput, max_length=12)
    basis = forms.CharField(widget=forms.HiddenInput, max_length=200)
    kind = forms.ChoiceField(
        label=_("Decision"),
        choices=list(KIND_LABELS.items()),
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the decision.")},
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Give the reason in your own words.")},
    )
    evidence = forms.CharField(
        label=_("Evidence"),
        max_length=1000,
        required=False,
        help_text=_("What was examined or which letter was read, and its date."),
    )
    paper = forms.TypedChoiceField(
        label=_("The paper that was read"),
        coerce=int,
        empty_value=None,
        required=False,
        error_messages={"invalid_choice": _("This paper is not filed for this patient, or you may not open it.")},
    )

    @classmethod
    def about(
        cls, finding: Finding, *, papers: Sequence[IncomingPaper], held: "DecisionForm | None" = None
    ) -> "DecisionForm":
        """The form under one finding; what was typed about it before a refusal is kept."""
        code = finding.rule.code
        if held is not None and held.data.get("rule") == code:
            form = held
        else:
            form = cls(initial={"rule": code, "basis": finding.basis}, auto_id=f"{code}_%s")
        form.fields["kind"].choices = [  # type: ignore[attr-defined]  # a field with choices, as declared above
            (kind, kind.label) for kind in kinds_for(finding.rule)
        ]
        return form._offering(papers)

    @classmethod
    def sent(cls, data: Any, *, papers: Sequence[IncomingPaper]) -> "DecisionForm":
        return cls(data, auto_id=f"{data.get('rule', '')[:12]}_%s")._offering(papers)

    def _offering(self, papers: Sequence[IncomingPaper]) -> "DecisionForm":
        if papers:
            named = [(paper.pk, paper_name(paper)) for paper in papers]
            self.fields["paper"].choices = [("", _("none")), *named]  # type: ignore[attr-defined]  # a field with choices
        else:
            self.fields.pop("paper", None)
        return self

    @property
    def chosen(self) -> DecisionKind:
        return DecisionKind(self.cleaned_data["kind"])


class ReaskDecisionForm(forms.Form):
    reason = forms.CharField(
        label=_("Why it goes on"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Give the reason in your own words.")},
    )

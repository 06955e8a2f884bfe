"""What stands on a signed paper, as two people read it. Nothing is filled in beforehand."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.accounts.fields import TypedDateField
from clinic.accounts.text import LineField
from clinic.documents.models import IncomingPaper, IssuedDocument
from whitening.consent.actions import NAME_DIFFERS, PaperSaid
from whitening.consent.forms import YES_NO, PhotosForm
from whitening.consent.names import is_same_name

BLANK = "blank"


class PaperForm(PhotosForm):
    paper = forms.TypedChoiceField(
        label=_("Which scan"),
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the scan that you are looking at.")},
    )
    form = forms.ChoiceField(
        label=_("Which form was signed"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the form. Its code stands at the end of its last page.")},
    )
    mark = LineField(
        label=_("Wording of a blank form"),
        help_text=_(
            "As it stands at the foot of each page, such as en-1-3f9a2c. A form for one plan has a code instead."
        ),
        required=False,
        max_length=40,
    )
    is_whole = forms.BooleanField(
        label=_("Every page is there, nothing was crossed out or added, and it is signed by hand"),
        error_messages={"required": _("A paper of which this is not true is no consent. Print it anew.")},
    )
    signer_name = LineField(
        label=_("Name beside the signature"),
        max_length=200,
        error_messages={"required": _("Write the name as it stands on the paper.")},
    )
    name_words = LineField(
        label=_("Why it is this patient’s, where the name differs"),
        help_text=_("Such as “name before marriage”. The second person sees it beside the name."),
        required=False,
        max_length=200,
    )
    signed_on = TypedDateField(
        label=_("Day beside the signature"), error_messages={"required": _("Write the day as it stands on the paper.")}
    )
    interpreter_signed = forms.ChoiceField(
        label=_("The interpreter signed too"),
        choices=YES_NO,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say yes or no.")},
    )
    field_order = ("paper", "form", "mark", "is_whole", "signer_name", "name_words", "signed_on", "interpreter_signed")

    def __init__(
        self,
        *args: Any,
        papers: Sequence[IncomingPaper],
        printed: Sequence[IssuedDocument],
        with_interpreter: bool,
        patient_name: str,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self._patient_name = patient_name
        self._printed = {str(one.pk): one for one in printed}
        self.fields["paper"].choices = [(one.pk, _named(one)) for one in papers]  # type: ignore[attr-defined]
        self.fields["form"].choices = [  # type: ignore[attr-defined]
            *((str(one.pk), _printed_name(one)) for one in printed),
            (BLANK, _("a blank form, filled in by hand with the words of this plan")),
        ]
        if not with_interpreter:
            del self.fields["interpreter_signed"]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("form") == BLANK and not cleaned.get("mark"):
            self.add_error("mark", _("Write the wording as it stands at the foot of the blank form."))
        name = cleaned.get("signer_name", "")
        if name and not is_same_name(name, self._patient_name) and not cleaned.get("name_words"):
            self.add_error("name_words", NAME_DIFFERS % {"name": self._patient_name})
        return cleaned

    def said(self) -> PaperSaid:
        data = self.cleaned_data
        return PaperSaid(
            signer_name=data["signer_name"],
            signed_on=data["signed_on"],
            is_whole=data["is_whole"],
            photographs=self.choices(),
            interpreter_signed=data.get("interpreter_signed") == "yes",
            form=self._printed.get(data["form"]),
            mark=data["mark"],
            name_words=data["name_words"],
        )


class CheckForm(forms.Form):
    """Yes or no to what the first person wrote down."""

    agrees = forms.ChoiceField(
        label=_("Does the paper say just this?"),
        choices=[("yes", _("yes, I have compared it with the scan")), ("no", _("no, something differs"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say yes or no.")},
    )
    words = LineField(label=_("What differs"), required=False, max_length=300)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("agrees") == "no" and not cleaned.get("words"):
            self.add_error("words", _("Write what differs from the paper, so that it can be written down anew."))
        return cleaned

    @property
    def says_yes(self) -> bool:
        return bool(self.cleaned_data["agrees"] == "yes")


def _named(paper: IncomingPaper) -> str:
    return _("filed on %(day)s by %(name)s") % {
        "day": day_words(paper.filed_at, paper.site.zone),
        "name": paper.filed_by.name,
    }


def _printed_name(form: IssuedDocument) -> str:
    return _("printed on %(day)s, code %(code)s…") % {
        "day": day_words(form.issued_at, form.site.zone),
        "code": form.grouped_code[:5],
    }

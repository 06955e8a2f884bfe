from datetime import date
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.accounts.fields import TypedDateField
from clinic.accounts.text import LineField
from clinic.documents import codes
from clinic.documents.failures import NotAPaper
from clinic.documents.filing import PaperDetails
from clinic.documents.models import PaperKind
from clinic.documents.uploads import MOST_BYTES, Fingerprint


class VerifyForm(forms.Form):
    """A code, a file, or both."""

    code = forms.CharField(
        label=_("The code on the sheet"),
        help_text=_("20 letters and digits, at the end of the last page. Small letters and spaces do not matter."),
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    file = forms.FileField(
        label=_("The PDF file, if you have it"),
        help_text=_("At most 25 MB. It is compared and not kept."),
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": "application/pdf"}),
    )

    def __init__(self, *args: Any, is_too_big: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_too_big = is_too_big
        self.helper = FormHelper()
        # The token goes first: a file that is cut off would take a later one with it.
        self.helper.form_tag = False
        self.helper.disable_csrf = True

    def clean_code(self) -> str:
        typed: str = self.cleaned_data["code"]
        code = codes.read(typed)
        if typed.strip() and not code:
            raise forms.ValidationError(
                _("A code has 20 letters and digits, in four groups of five. Compare it with the sheet once more.")
            )
        return code

    def clean_file(self) -> Fingerprint | None:
        file: Fingerprint | None = self.cleaned_data["file"]
        if self.is_too_big:
            raise forms.ValidationError(
                _("This file is larger than %(most)s MB, so it is not one of ours. Choose the PDF you were given."),
                params={"most": MOST_BYTES // (1024 * 1024)},
            )
        if file is not None and not file.is_pdf:
            raise forms.ValidationError(_("This file is not a PDF. Choose the PDF file you were given."))
        return file

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not cleaned.get("code") and not cleaned.get("file"):
            raise forms.ValidationError(_("Enter the code of the sheet, or choose its PDF file."))
        return cleaned


class PaperForm(forms.Form):
    """A paper that came in. The file stands last: where it is cut off, everything typed before it is there."""

    kind = forms.ChoiceField(
        label=_("What it is"),
        choices=PaperKind.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say what kind of paper it is.")},
    )
    sender = LineField(label=_("Who wrote it"), help_text=_("Needed for a letter."), required=False, max_length=120)
    dated_on = TypedDateField(
        label=_("Date on the paper"),
        help_text=_("Needed for a letter. Day, month, year, such as 12 8 1990"),
        required=False,
    )
    received_on = TypedDateField(label=_("Came in on"))
    file = forms.FileField(
        label=_("The scan"),
        help_text=_("PDF, JPEG or PNG, at most 25 MB and 60 pages. All pages of one paper in one file."),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png"}),
        error_messages={"required": _("Choose the scan. After a refusal it has to be chosen again.")},
    )

    def __init__(self, *args: Any, today: date, is_too_big: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_too_big = is_too_big
        self.fields["received_on"].initial = today

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if self.is_too_big:
            self.errors.pop("file", None)
            self.add_error("file", str(NotAPaper("size")))
        if cleaned.get("kind") == PaperKind.LETTER:
            if not cleaned.get("sender"):
                self.add_error("sender", _("Write who wrote the letter."))
            if not cleaned.get("dated_on") and "dated_on" not in self.errors:
                self.add_error("dated_on", _("Write the date that stands on the letter."))
        return cleaned

    def details(self) -> PaperDetails:
        data = self.cleaned_data
        return PaperDetails(
            kind=PaperKind(data["kind"]),
            sender=data["sender"],
            dated_on=data["dated_on"],
            received_on=data["received_on"],
        )

    def content(self) -> bytes:
        content: bytes = self.cleaned_data["file"].read()
        return content

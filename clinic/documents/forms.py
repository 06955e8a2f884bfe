from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.documents import codes
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

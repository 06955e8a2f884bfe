"""Forms of the consent's words. What is wrong with them, the reader of the program's own file says: one for both."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Self

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.fields import NativeDate
from whitening.consent.actions import CheckDetails
from whitening.consent.elements import REQUIRED, Required
from whitening.consent.wording import Element, Fault, Wording

HEADING_LENGTH, WORDS_LENGTH, SOURCE_LENGTH, REASON_LENGTH = 120, 6000, 400, 500
LINES_MOST, LETTERS_A_LINE = 12, 60
# As people write: an empty line, or several, between two paragraphs.
_BREAK: Final = re.compile(r"\n\s*\n")
_LINE: Final = re.compile(r"\r\n?")


class ReadField(forms.CharField):
    """All of them are wanted. What is missing, the reader says: everything at once, and by the element's name."""

    widget = forms.Textarea(attrs={"rows": 2})

    def validate(self, value: object) -> None:
        pass


class ParagraphsField(ReadField):
    """Cleaned to one shape: a browser sends other ends of lines than the database gave it."""

    def to_python(self, value: object) -> str:
        text = super().to_python(value) or ""
        return "\n\n".join(line for part in _BREAK.split(_LINE.sub("\n", text)) if (line := _one_line(part)))


@dataclass(frozen=True, slots=True)
class Part:
    """One element on the page."""

    title: StrOrPromise
    fields: tuple[forms.BoundField, ...]

    @property
    def has_errors(self) -> bool:
        return any(field.errors for field in self.fields)


class WordingForm(forms.Form):
    seen_version = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=1_000_000)
    reason = forms.CharField(
        label=_("What you change, and why"), max_length=REASON_LENGTH, help_text=_("It stands in the list of versions.")
    )

    def __init__(self, *args: Any, looks: bool = False, **kwargs: Any) -> None:
        """looks: nothing is kept yet, so nobody has to say why."""
        super().__init__(*args, **kwargs)
        self._looks = looks
        for required in REQUIRED:
            self.fields.update(_fields(required))
            self._make_room(f"words_{required.number}")

    def full_clean(self) -> None:
        """What looking does not need is shown as needed all the same: it is kept from the same page."""
        self.fields["reason"].required = not self._looks
        super().full_clean()
        self.fields["reason"].required = True

    def _make_room(self, name: str) -> None:
        """As many lines as the words take on a page of the usual width, about."""
        text = str(self[name].value() or "")
        self.fields[name].widget.attrs["rows"] = max(2, min(LINES_MOST, 1 + len(text) // LETTERS_A_LINE))

    @classmethod
    def of(cls, elements: Iterable[Element], *, seen_version: int, reason: str = "") -> Self:
        initial: dict[str, object] = {"seen_version": seen_version, "reason": reason}
        for element in elements:
            initial[f"heading_{element.number}"] = element.heading
            initial[f"words_{element.number}"] = "\n\n".join(element.paragraphs)
            initial[f"source_{element.number}"] = element.source
        return cls(initial=initial)

    @property
    def parts(self) -> Iterator[Part]:
        for each in REQUIRED:
            title = format_lazy("{number}. {says}", number=each.number, says=_sentence_case(str(each.says)))
            yield Part(title, tuple(self[f"{name}_{each.number}"] for name in ("heading", "words", "source")))

    def elements(self) -> list[dict[str, object]]:
        """As the program's own file has them."""
        typed = self.cleaned_data
        return [
            {
                "number": each.number,
                "heading": _one_line(typed[f"heading_{each.number}"]),
                "paragraphs": [text for text in typed[f"words_{each.number}"].split("\n\n") if text],
                "source": _one_line(typed[f"source_{each.number}"]),
            }
            for each in REQUIRED
        ]

    def take(self, faults: Iterable[Fault]) -> None:
        """Each beside its field; what is about the whole, on top."""
        for fault in faults:
            name = f"{fault.part}_{fault.number}" if fault.number else fault.part
            self.add_error(name if name in self.fields else None, str(fault.sentence))


def _fields(required: Required) -> dict[str, forms.Field]:
    number = required.number
    hint = format_lazy(_("Must name, from the plan: {names}"), names=required.braces) if required.names else ""
    return {
        f"heading_{number}": ReadField(
            label=format_lazy(_("Heading of {number}"), number=number),
            max_length=HEADING_LENGTH,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        ),
        f"words_{number}": ParagraphsField(
            label=format_lazy(_("Words of {number}"), number=number), max_length=WORDS_LENGTH, help_text=hint
        ),
        f"source_{number}": ReadField(
            label=format_lazy(_("Source of {number}"), number=number), max_length=SOURCE_LENGTH
        ),
    }


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


class UseForm(forms.Form):
    seen_number = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=1_000_000)


class CheckForm(forms.Form):
    name = forms.CharField(label=_("Who checked the translation"), max_length=120)
    qualification = forms.CharField(
        label=_("Qualification or role"),
        max_length=200,
        help_text=_("For example: sworn translator; dentist whose first language it is."),
    )
    checked_on = forms.DateField(label=_("Checked on"), widget=NativeDate())

    @classmethod
    def on(cls, day: date) -> Self:
        return cls(initial={"checked_on": day})

    def details(self) -> CheckDetails:
        return CheckDetails(**self.cleaned_data)


def form_about(wording: Wording, *, seen_version: int) -> WordingForm:
    """The reason is written anew for each version."""
    return WordingForm.of(wording.elements, seen_version=seen_version)

"""What people type or paste into a box of text, made fit to be kept, printed and sent."""

import re
import unicodedata
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import ProhibitNullCharactersValidator

_LINE_ENDS = re.compile(r"\r\n?|[\u2028\u2029\v\f\x85]")
_BREAKS = re.compile(r"[\n\t]+ *")
_KEPT = "\n\t"
# Stands where a character got lost on the way; the other two are none by definition (Unicode, noncharacters).
_LOST = "\ufffd\ufffe\uffff"


def lines(text: str) -> str:
    """With one sign for the end of a line: browsers count one, and send two."""
    return _LINE_ENDS.sub("\n", text)


def one_line(text: str) -> str:
    """A pasted line break or tab would break a mail's subject and a printed list: it becomes a space."""
    return _BREAKS.sub(" ", lines(text))


def check_characters(text: str) -> None:
    """Commands to a machine are no text: a sheet cannot print them, and a file for another system cannot hold them."""
    if any(letter in _LOST or (unicodedata.category(letter) == "Cc" and letter not in _KEPT) for letter in text):
        # In the words of the check that Django has for one of them.
        refused = ProhibitNullCharactersValidator
        raise ValidationError(refused.message, code=refused.code)


class LineField(forms.CharField):
    default_validators = [check_characters]

    def to_python(self, value: Any) -> str | None:
        text: str | None = super().to_python(value)
        return one_line(text).strip() if text else text


class LinesField(forms.CharField):
    default_validators = [check_characters]

    def to_python(self, value: Any) -> str | None:
        text: str | None = super().to_python(value)
        return lines(text) if text else text

"""Telephone numbers: those that can exist, and those that regulators keep free for stories.

The kept ones are taken everywhere, not in the demo alone: a practice rehearses with an invented patient before it
opens, and nobody's number ever lies there, so what is typed wrongly ends in such a range less often than in any other.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _
from phonenumber_field import formfields, modelfields
from phonenumber_field.phonenumber import PhoneNumber, to_python

# "Telephone numbers for use in TV and radio drama programmes", Ofcom: that mobile, area and no-area numbers are kept
# is seen in reports of it (BBC News Magazine Monitor, 20 April 2015); the digits of each range are from memory.
_OFCOM = "Ofcom, telephone numbers for use in TV and radio drama (ranges from memory, unverified)"


@dataclass(frozen=True, slots=True)
class KeptFree:
    pattern: str
    what: str
    source: str


# Only those that the numbering data of the library refuses. It takes the other British drama numbers, and the
# 555-0100 to 555-0199 of each area of the North American plan, as numbers like any other.
KEPT_FREE = (
    KeptFree(r"\+447700900\d{3}", "United Kingdom, mobile", _OFCOM),
    KeptFree(r"\+441154960\d{3}", "United Kingdom, Nottingham", _OFCOM),
    KeptFree(r"\+441632960\d{3}", "United Kingdom, no area", _OFCOM),
)


def is_given(number: PhoneNumber | str | None) -> bool:
    """Asked for its truth, a number would be written out to see how long that is."""
    return isinstance(number, PhoneNumber) or bool(number)


def international(number: PhoneNumber | str | None) -> str:
    """As people read it. The library looks a number up among all that there are: the few that stand in every letter are
    remembered, by what was read from the database.
    """
    if not is_given(number):
        return ""
    raw = str(getattr(number, "raw_input", None) or "")
    return _international(raw) if raw.startswith("+") else str(getattr(number, "as_international", number))


@lru_cache(maxsize=128)
def _international(raw: str) -> str:
    return str(getattr(to_python(raw), "as_international", raw))


def is_kept_free(number: PhoneNumber) -> bool:
    return any(re.fullmatch(each.pattern, number.as_e164) for each in KEPT_FREE)


def check_number(value: object) -> None:
    number = to_python(value)
    if isinstance(number, PhoneNumber) and not _is_taken(number):
        raise ValidationError(_("That is not a telephone number. Begin with + and the country code."), code="invalid")


def _is_taken(number: PhoneNumber) -> bool:
    return bool(number.is_valid() or is_kept_free(number))


def _says_more(number: PhoneNumber) -> bool:
    return bool(number.extension) or any(letter.isalpha() for letter in str(number.raw_input or ""))


class TelephoneFormField(formfields.PhoneNumberField):  # type: ignore[misc]  # the library has no types
    default_validators = [check_number]

    def to_python(self, value: object) -> PhoneNumber | str | None:
        """A number that is kept free is written out in full at once: the library would keep it as it was typed.

        Words and extensions beside a number would be dropped without a word, so they are refused.
        """
        number: PhoneNumber | str | None = super().to_python(value)
        if isinstance(number, PhoneNumber) and _is_taken(number) and _says_more(number):
            raise ValidationError(
                _("Only the number can be kept here. Leave out words and extensions."), code="says_more"
            )
        if isinstance(number, PhoneNumber) and is_kept_free(number):
            return to_python(number.as_e164)
        return number


class TelephoneField(modelfields.PhoneNumberField):  # type: ignore[misc]  # the library has no types
    default_validators = [check_number]

"""Details of a patient as words, where two versions stand side by side."""

from dataclasses import asdict
from datetime import date

from django.forms import BaseForm
from django.utils.translation import gettext as _
from phonenumber_field.phonenumber import to_python

from clinic.accounts.dates import birth_words
from clinic.accounts.languages import name_of
from clinic.patients.actions import Details
from clinic.patients.models import Channel

Difference = tuple[str, str, str]


def differences(*, saved: Details, typed: Details, form: BaseForm) -> list[Difference]:
    """Label, saved value, typed value of each field in which the two versions differ, in the form's order."""
    left, right = asdict(saved), asdict(typed)
    return [
        (str(field.label or name), words(name, left[name]), words(name, right[name]))
        for name, field in form.fields.items()
        if name in left and left[name] != right[name]
    ]


def words(name: str, value: object) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, date):
        return birth_words(value)
    if name == "language":
        return name_of(str(value))
    if name == "channel":
        return str(Channel(str(value)).label)
    if name == "phone" and value:
        number = to_python(str(value))
        return number.as_international if number else str(value)
    return ", ".join(str(value).splitlines()) or "–"

"""A form that somebody else overtook: both versions beside each other, and the next press keeps this one."""

from collections.abc import Iterable
from typing import cast

from django.forms import BaseForm, BoundField, ChoiceField, MultipleChoiceField
from django.utils.translation import gettext as _

Difference = tuple[str, str, str]


def both(*, typed: BaseForm, saved: BaseForm, version: int) -> list[Difference]:
    """Label, what stands there now, what was typed; `typed` is made ready to be saved over it."""
    typed.data = {field.html_name: field.data for field in typed} | {"seen_version": str(version)}
    rows = [(field, saved[field.name].value()) for field in typed if not field.is_hidden]
    return [
        (str(field.label), _words(field, now), _words(field, mine))
        for field, now in rows
        if (mine := typed.cleaned_data.get(field.name)) != now and not (_empty(mine) and _empty(now))
    ]


def _empty(value: object) -> bool:
    return value is None or value == ""


def _words(field: BoundField, value: object) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(field.field, ChoiceField):
        choices = dict(cast(Iterable[tuple[str, str]], field.field.choices))
        if isinstance(field.field, MultipleChoiceField):
            picked = [str(choices.get(str(one), "–")) for one in cast(Iterable[object], value or ())]
            return ", ".join(picked) or "–"
        return str(choices.get(str(value), "–"))
    return "–" if _empty(value) else str(value)

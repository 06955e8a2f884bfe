"""Filters for printed sheets."""

import unicodedata

from django import template

register = template.Library()
_RIGHT_TO_LEFT = {"R", "AL"}


@register.filter
def direction_of(text: object) -> str:
    """`rtl` or `ltr` by the first letter that has a direction: an address keeps its own order in any sheet.

    The renderer does not know `dir="auto"`, so the template asks here.
    """
    for mark in str(text):
        kind = unicodedata.bidirectional(mark)
        if kind == "L":
            return "ltr"
        if kind in _RIGHT_TO_LEFT:
            return "rtl"
    return "ltr"

"""What a list of papers asks about each."""

from django import template

from clinic.documents import larger
from clinic.documents.models import IssuedDocument
from clinic.trail.clock import now

register = template.Library()


@register.filter
def has_large_print(document: IssuedDocument) -> bool:
    """Whether a copy in large print can be drawn."""
    return larger.can(document, now=now())

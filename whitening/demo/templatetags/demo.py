from django import template
from django.conf import settings
from django.utils.html import urlize
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


@register.filter
def with_links(text: str) -> SafeString:
    """Escaped, with its addresses as links; our own lead to this very server, whatever it is called outside."""
    linked = urlize(text, nofollow=False, autoescape=True)
    return mark_safe(linked.replace(f'href="{settings.PUBLIC_URL}/', 'href="/'))  # noqa: S308  (urlize escaped it)

"""What the forms and the head of a patient's page say about whose page it is."""

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString

from clinic.accounts.models import Site
from clinic.messages import pages
from clinic.messages.models import PrivateLink

register = template.Library()


@register.simple_tag(takes_context=True)
def whose_page(context: Context) -> SafeString:
    """A hidden field beside the form's token: a form of one person's page is never taken for another's."""
    link = _link(context)
    return (
        SafeString("")
        if link is None
        else format_html('<input type="hidden" name="{}" value="{}">', pages.WHOSE, pages.mark_of(link))
    )


@register.simple_tag(takes_context=True)
def named_on_page(context: Context) -> str:
    """Whom the page is for, once they have said who they are; a printed link's page names nobody."""
    link, visit = _link(context), getattr(context.get("request"), "visit", None)
    if link is None or link.write_only or visit is None or visit.known_at is None:
        return ""
    return link.patient.preferred_name or link.patient.name


@register.simple_tag(takes_context=True)
def site_of_page(context: Context) -> Site | None:
    """Whom to call from this page."""
    link = _link(context)
    return None if link is None else link.site


def _link(context: Context) -> PrivateLink | None:
    link: PrivateLink | None = getattr(context.get("request"), "link", None)
    return link

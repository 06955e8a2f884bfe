"""What stands below every letter by e-mail: who writes, from where, and where one click ends such messages."""

from functools import lru_cache

from django.conf import settings
from django.template.loader import render_to_string
from django.utils.translation import get_language

from clinic.accounts.models import Site
from clinic.accounts.phones import international


def foot(site: Site, *, end_url: str = "", form: str = "txt") -> str:
    """In the language that is active now, as plain text or as "html"."""
    words = (site.practice.name, site.name, site.address, international(site.phone))
    if end_url:
        return _written(form, *words, end_url)
    # Each letter of a site ends alike.
    return _known(form, *words, (get_language(), *settings.LOCALE_PATHS))


@lru_cache(maxsize=64)
def _known(form: str, practice: str, place: str, address: str, phone: str, _spoken: tuple[object, ...]) -> str:
    return _written(form, practice, place, address, phone, "")


def _written(form: str, practice: str, place: str, address: str, phone: str, end_url: str) -> str:
    words = {"practice": practice, "place": place, "address": address, "phone": phone, "end_url": end_url}
    return render_to_string(f"messages/mail/foot.{form}", words)

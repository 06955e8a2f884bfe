"""The mail server or provider that an address names, as the settings of Django and of django-anymail.

A provider's address is `anymail+NAME://?SETTING=VALUE&…`, with the settings that django-anymail lists for it.
"""

from importlib.util import find_spec
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import environ
from django.core.exceptions import ImproperlyConfigured

from clinic.config import env

# Not smtps: readers of such addresses disagree on what it means. And none that only prints or drops mails:
# a message would be shown as handed over that went nowhere.
SERVERS = ("smtp", "smtp+tls", "smtp+ssl")
PROVIDER = "anymail+"


def read(name: str, value: str) -> dict[str, Any]:
    scheme = value.partition("://")[0]
    if scheme in SERVERS:
        found = env.parsed(name, value, environ.Env.email_url_config)
        # Ours can tell whether a message may have gone out before the connection broke.
        return found | {"EMAIL_BACKEND": "clinic.messages.channels.smtp.StagedEmailBackend"}
    if scheme.startswith(PROVIDER):
        return _provider(name, scheme.removeprefix(PROVIDER), value)
    known = ", ".join(f"{each}://" for each in (*SERVERS, f"{PROVIDER}NAME"))
    raise ImproperlyConfigured(f"{name} names no mail server. Begin it with one of: {known}.")


def _provider(name: str, provider: str, value: str) -> dict[str, Any]:
    if not provider.isidentifier() or find_spec(f"anymail.backends.{provider}") is None:
        raise ImproperlyConfigured(f"{name} names a provider that django-anymail does not know.")
    given = parse_qsl(urlsplit(value).query)
    return {
        "EMAIL_BACKEND": f"anymail.backends.{provider}.EmailBackend",
        "ANYMAIL": {f"{provider}_{key}".upper(): word for key, word in given},
    }

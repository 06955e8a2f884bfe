"""Readers of the process environment that refuse a bad value with a sentence.

Each reader also looks at NAME_FILE, so that a secret may lie in a file instead of the environment.
"""

import base64
import binascii
import hashlib
import os
import re
from collections.abc import Callable, Iterable
from email.utils import parseaddr
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured

_TRUE = {"1", "true", "yes", "on"}
_FALSE = {"0", "false", "no", "off"}
_HOST = re.compile(r"\.?[\w-]+(\.[\w-]+)*|\[[0-9A-Fa-f:]+\]", re.ASCII)
_ORIGIN = re.compile(r"https?://[^/?#@\s]+")


def text(name: str, default: str | None = None) -> str:
    """The value of NAME, or the content of the file NAME_FILE; a missing one without default is refused."""
    path = os.environ.get(f"{name}_FILE")
    if path is not None:
        try:
            return Path(path).read_text(encoding="utf-8").strip()
        except OSError as error:
            raise ImproperlyConfigured(f"{name}_FILE names {path}, which cannot be read: {error.strerror}.") from error
    value = os.environ.get(name, default)
    if value is None:
        raise ImproperlyConfigured(f"{name} is not set. Set it in the environment, or name a file in {name}_FILE.")
    return value


def flag(name: str, default: bool) -> bool:
    value = text(name, "1" if default else "0").lower()
    if value not in _TRUE | _FALSE:
        raise ImproperlyConfigured(f"{name} is {value!r}. Use 1 or 0.")
    return value in _TRUE


def whole(name: str, default: int, *, least: int, most: int) -> int:
    value = text(name, str(default))
    if not value.lstrip("-").isascii() or not value.lstrip("-").isdigit() or not least <= int(value) <= most:
        raise ImproperlyConfigured(f"{name} is {value!r}. Use a whole number from {least} to {most}.")
    return int(value)


def words(name: str, default: Iterable[str] = ()) -> list[str]:
    """A list written with commas between its entries."""
    return [word.strip() for word in text(name, ",".join(default)).split(",") if word.strip()]


def hosts(name: str, default: Iterable[str]) -> list[str]:
    """Host names as a browser sends them: no scheme, no port."""
    found = words(name, default)
    if not found or not all(_HOST.fullmatch(host) for host in found):
        sentence = "Use host names without https:// and without a port, such as casebook.example.org."
        raise ImproperlyConfigured(f"{name} is {','.join(found)!r}. {sentence}")
    return found


def origin(name: str, default: str, *, plain_http: bool) -> str:
    """Scheme and host, nothing after them."""
    value = text(name, default).rstrip("/")
    if not _ORIGIN.fullmatch(value):
        raise ImproperlyConfigured(f"{name} is {value!r}. Use an address such as https://casebook.example.org.")
    if value.startswith("http:") and not plain_http:
        raise ImproperlyConfigured(f"{name} is {value!r}. It must begin with https://.")
    return value


def address(name: str, default: str, *, schemes: Iterable[str] = ()) -> str:
    """A URL. It may hold a password, so no sentence about it shows it."""
    value = text(name, default)
    allowed = [f"{scheme}://" for scheme in schemes]
    if not value.startswith(tuple(allowed) or "") or (value and "://" not in value):
        one_of_these = f" Begin it with one of: {', '.join(allowed)}." if allowed else ""
        raise ImproperlyConfigured(f"{name} is no address as docs/settings.md describes it.{one_of_these}")
    return value


def parsed(name: str, value: str, reader: Callable[[str], dict[str, Any]]) -> dict[str, Any]:
    """What the reader makes of an address. Its own words are dropped: they may quote a part of the password."""
    try:
        return reader(value)
    except (ImproperlyConfigured, KeyError, ValueError):
        sentence = "cannot be read. See docs/settings.md; in a password write / as %2F, # as %23, @ as %40, % as %25."
        raise ImproperlyConfigured(f"{name} {sentence}") from None


def sender(name: str, default: str) -> str:
    value = text(name, default)
    mailbox, _at, host = parseaddr(value)[1].partition("@")
    if not (mailbox and host):
        raise ImproperlyConfigured(f"{name} is {value!r}. Use an address such as rooms@example.org.")
    return value


def keys(name: str) -> list[str]:
    """Encryption keys, newest first, as `python -m clinic.trail.new_key` prints them."""
    found = words(name)
    for position, key in enumerate(found, start=1):
        try:
            length = len(base64.b64decode(key, altchars=b"-_", validate=True))
        except (binascii.Error, ValueError):
            length = 0
        if length != 32:
            # The key itself is not shown: start-up errors end up in logs.
            raise ImproperlyConfigured(f"Key {position} of {name} is no key. Make one: python -m clinic.trail.new_key")
    return found


def key_from(secret: str) -> str:
    return base64.urlsafe_b64encode(hashlib.sha256(secret.encode()).digest()).decode("ascii")


def one_of(name: str, default: str, choices: Iterable[str]) -> str:
    value = text(name, default)
    allowed = list(choices)
    if value not in allowed:
        raise ImproperlyConfigured(f"{name} is {value!r}. Use one of: {', '.join(allowed)}.")
    return value


def folder(name: str, default: Path) -> Path:
    """An absolute folder; it is made when it is missing, readable by this user alone."""
    path = Path(text(name, str(default)))
    if not path.is_absolute():
        raise ImproperlyConfigured(f"{name} is {str(path)!r}. Use a path that starts with /.")
    try:
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise ImproperlyConfigured(f"{name} is {path}, which cannot be made: {error.strerror}.") from error
    return path

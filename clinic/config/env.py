"""Readers of the process environment that refuse a bad value with a sentence.

Each reader also looks at NAME_FILE, so that a secret may lie in a file instead of the environment.
"""

import base64
import binascii
import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

_TRUE = {"1", "true", "yes", "on"}
_FALSE = {"0", "false", "no", "off"}


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
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return path

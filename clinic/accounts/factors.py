"""Second factors under a new key: the sign-in library keeps its encrypted texts inside a JSON column."""

from typing import Any, Final

from allauth.mfa.models import Authenticator
from django.db import transaction

from clinic.trail.fields import open_text, seal_text

# What the library encrypts through our adapter, by the name it has in `Authenticator.data`.
SEALED: Final = ("secret", "seed")
SEALED_LISTS: Final = ("migrated_codes",)


def rewrap() -> int:
    """Encrypts the secrets of all authenticator apps and recovery codes anew; the number of texts."""
    return sum(_rewrap(pk) for pk in Authenticator.objects.values_list("pk", flat=True))


def _rewrap(pk: int) -> int:
    with transaction.atomic():
        # Locked, so that a recovery code used meanwhile stays used.
        kept = Authenticator.objects.select_for_update().filter(pk=pk).first()
        if kept is None:
            return 0
        fresh = _sealed_anew(kept.data)
        kept.data = kept.data | fresh
        kept.save(update_fields=["data"])
        return sum(len(value) if isinstance(value, list) else 1 for value in fresh.values())


def _sealed_anew(data: dict[str, Any]) -> dict[str, str | list[str]]:
    fresh: dict[str, str | list[str]] = {name: _again(data[name]) for name in SEALED if name in data}
    return fresh | {name: [_again(token) for token in data[name]] for name in SEALED_LISTS if name in data}


def _again(token: str) -> str:
    return seal_text(open_text(token))

"""Moving everything that is encrypted to the newest key of the settings, so that an old one can go."""

from collections.abc import Callable

from django.apps import apps
from django.db import models, transaction

from clinic.trail import keys
from clinic.trail.fields import EncryptedTextField

CHUNK = 500
# Of apps that keep an encrypted text inside something else than an EncryptedTextField.
_others: dict[str, Callable[[], int]] = {}


def register(name: str, rewrap: Callable[[], int]) -> None:
    """`rewrap` encrypts its own texts anew (`seal_text(open_text(token))`) and gives their number."""
    _others[name] = rewrap


def rewrap_texts() -> int:
    """Encrypts every EncryptedTextField of every app, and what was registered, anew; the number of texts."""
    columns = sum(
        _rewrap(model, field.attname)
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, EncryptedTextField)
    )
    return columns + sum(rewrap() for rewrap in _others.values())


def rewrap_key_files() -> int:
    return keys.rewrap_all()


def _rewrap(model: type[models.Model], name: str) -> int:
    rows, total = model._base_manager, 0
    for pk in rows.exclude(**{f"{name}__isnull": True}).values_list("pk", flat=True).iterator(CHUNK):
        with transaction.atomic():
            # Locked, so that a text saved meanwhile is not put back to its older self.
            row = rows.select_for_update().filter(pk=pk).first()
            if row is not None:
                row.save(update_fields=[name])
                total += 1
    return total

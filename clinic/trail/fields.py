"""Text that lies encrypted in its column, under the keys of the settings."""

from typing import TYPE_CHECKING, Any, cast

from django.core.exceptions import FieldError
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.expressions import Case, Expression
from django.db.models.functions import Cast

from clinic.trail import keys


def seal_text(text: str) -> str:
    return keys.wrapping().encrypt(text.encode("utf-8", "surrogatepass")).decode("ascii")


def open_text(token: str) -> str:
    """The text again; `cryptography.fernet.InvalidToken` when no key of the settings opens it."""
    return keys.wrapping().decrypt(token.encode("ascii")).decode("utf-8", "surrogatepass")


if TYPE_CHECKING:
    _TextField = models.TextField[str, str]
else:
    # Generic in the stubs alone.
    _TextField = models.TextField


class EncryptedTextField(_TextField):
    """Encrypted on the way in, plain on the way out. It cannot be searched: every token differs."""

    def get_db_prep_save(self, value: Any, connection: BaseDatabaseWrapper) -> Any:
        if value is None:
            return None
        if isinstance(value, (Case, Cast)):
            # What bulk_update hands over: the texts inside come through here one by one.
            return value
        if hasattr(value, "as_sql"):
            raise FieldError(f"{self.name} is encrypted: give it a text, not a database expression.")
        return seal_text(str(value))

    def from_db_value(self, value: str | None, _expression: Expression, _connection: BaseDatabaseWrapper) -> str | None:
        return None if value is None else open_text(value)

    def get_lookup(self, lookup_name: str) -> Any:
        # Comparing tokens finds nothing and looks like "no such row": say so instead.
        if lookup_name != "isnull":
            raise FieldError(f"{self.name} is encrypted and cannot be looked up by its text.")
        return cast(Any, super().get_lookup(lookup_name))

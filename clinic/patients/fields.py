"""Folded text that both databases search alike: in the order of its letters' numbers, and by any part of it."""

from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.lookups import Lookup

if TYPE_CHECKING:
    _CharField = models.CharField[str, str]
    _TextField = models.TextField[str, str]
    _Lookup = Lookup[str]
else:
    # Generic in the stubs alone.
    _CharField, _TextField, _Lookup = models.CharField, models.TextField, Lookup

# The table that clinic.patients.trigrams makes on SQLite.
TRIGRAMS = "patient_trigrams"
# PostgreSQL alone: the index of the whole words of a name, likewise made there.
WORDS = "patient_words"
_SHORTEST = 3
# Sorts after every letter of every script.
LAST = "\U0010ffff"


class FoldedField(_CharField):
    """Sorted by code points, so that one B-tree answers both "begins with" and "in this order".

    SQLite sorts so anyway; PostgreSQL would follow a language, and its index could not be asked for a beginning.
    """

    def db_parameters(self, connection: BaseDatabaseWrapper) -> Any:
        collation = "C" if connection.vendor == "postgresql" else None
        return {**super().db_parameters(connection), "collation": collation}


def begins(name: str, start: str) -> models.Q:
    """A condition that a B-tree answers on both engines; LIKE would be read through on SQLite."""
    return models.Q(**{f"{name}__gte": start, f"{name}__lt": start + LAST})


class SearchTextField(_TextField):
    """Asked by `__holds`: any part of the text, found by its trigrams."""


@SearchTextField.register_lookup
class Holds(_Lookup):
    """PostgreSQL: LIKE, which its GIN index of trigrams answers. SQLite: the full-text table of the same trigrams."""

    lookup_name = "holds"

    def as_sql(self, compiler: Any, connection: BaseDatabaseWrapper) -> tuple[str, tuple[str | int, ...]]:
        column, params = self.process_lhs(compiler, connection)
        return f"{column} LIKE %s", (*params, f"%{connection.ops.prep_for_like_query(str(self.rhs))}%")

    def as_sqlite(self, compiler: Any, connection: BaseDatabaseWrapper) -> tuple[str, tuple[str | int, ...]]:
        column, params = self.process_lhs(compiler, connection)
        if len(str(self.rhs)) < _SHORTEST:
            return f"instr({column}, %s) > 0", (*params, str(self.rhs))
        row = connection.ops.quote_name(self.lhs.alias) + ".id"
        phrase = '"' + str(self.rhs).replace('"', '""') + '"'
        return f"{row} IN (SELECT rowid FROM {TRIGRAMS} WHERE search_text MATCH %s)", (phrase,)  # noqa: S608


@FoldedField.register_lookup
class HoldsOneOf(_Lookup):
    """Asked by `__holds_one_of`, of search_name: at least one of some whole words, given with blanks between them.

    PostgreSQL: the index of words, a thousandth of the work of as many LIKEs. SQLite: the full-text table again.
    """

    lookup_name = "holds_one_of"

    def as_sql(self, compiler: Any, connection: BaseDatabaseWrapper) -> tuple[str, tuple[str | int, ...]]:
        column, params = self.process_lhs(compiler, connection)
        return f"{words_of(column)} && {words_of('%s')}", (*params, str(self.rhs))

    def as_sqlite(self, compiler: Any, connection: BaseDatabaseWrapper) -> tuple[str, tuple[str | int, ...]]:
        row = connection.ops.quote_name(self.lhs.alias) + ".id"
        phrases = " OR ".join(f'" {word} "' for word in str(self.rhs).split())
        return f"{row} IN (SELECT rowid FROM {TRIGRAMS} WHERE search_text MATCH %s)", (phrases,)  # noqa: S608


def words_of(text: str) -> str:
    """As the index has it, to the letter: otherwise it is not used."""
    return f"string_to_array({text}, ' ')"

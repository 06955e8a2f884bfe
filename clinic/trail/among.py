"""One of many keys, asked with one value."""

import json
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.lookups import Lookup

if TYPE_CHECKING:
    _Lookup = Lookup[Any]
else:
    # Generic in the stubs alone.
    _Lookup = Lookup


class Among(_Lookup):
    """`rows.filter(Among("pk", keys))`, as `pk__in=keys` and for many keys: there each one is a value by itself, which
    is made, sent and read on its own.
    """

    prepare_rhs = False

    def __init__(self, column: str, keys: Iterable[int]) -> None:
        super().__init__(models.F(column), [int(key) for key in keys])

    def as_sql(self, compiler: Any, connection: BaseDatabaseWrapper) -> tuple[str, tuple[str | int, ...]]:
        column, params = self.process_lhs(compiler, connection)
        return f"{column} IN (SELECT value FROM json_each(%s))", (*params, json.dumps(self.rhs))  # noqa: S608

    def as_postgresql(self, compiler: Any, connection: BaseDatabaseWrapper) -> tuple[str, tuple[str | int, ...]]:
        column, params = self.process_lhs(compiler, connection)
        return f"{column} = ANY(%s::bigint[])", (*params, f"{{{','.join(map(str, self.rhs))}}}")

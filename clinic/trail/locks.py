"""One sealer, one importer at a time, whatever the number of workers."""

from django.db import transaction

SEALER, IMPORTER = 7_420_001, 7_420_002


def hold(number: int, *, using: str = "default") -> None:
    """Waits its turn until the surrounding transaction ends.

    On PostgreSQL an advisory lock: locking the head's row would need the right to update it, which the
    app's role has not. On SQLite the transaction itself is IMMEDIATE and so already the only writer.
    """
    connection = transaction.get_connection(using)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])

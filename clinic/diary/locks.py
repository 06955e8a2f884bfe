"""What whoever gives a time asks and waits for first, in one order: the patient, then all that can be booked.

Written out in SQL, because each visit that is given and each search asks them: making the sentences anew every time
took longer than answering them. On SQLite the transaction itself is IMMEDIATE and so already the only writer.
"""

from datetime import datetime

from django.db import connection

from clinic.accounts.models import Site
from clinic.patients.models import Patient
from clinic.patients.person import JoinedMeanwhile, NotedAsDied
from clinic.trail.readymade import Statement

# No key of these rows ever changes, so rows that refer to them may still be written meanwhile.
_PATIENT = 'SELECT merged_into_id, died_on FROM "clinic_patients_patient" WHERE id = %s'
_RESOURCES = 'SELECT id FROM "clinic_diary_resource" WHERE active AND site_id = %s ORDER BY id'
# What BookingQuerySet.without_what_ran_out leaves out.
_RAN_OUT = """
SELECT id FROM clinic_diary_booking
WHERE status IN ('pending', 'proposed') AND lapses_at <= %s AND site_id = %s ORDER BY id
"""
_LEFT_ALONE = "FOR NO KEY UPDATE SKIP LOCKED"


def lock_patient(patient: Patient) -> None:
    """Before any visit of theirs, everywhere: two transactions that met in another order would wait in a circle.

    Raises JoinedMeanwhile: nothing more is written for a record that stands for another one of the same person.
    Raises NotedAsDied: whoever noted it and whoever gives a time wait for each other here.
    """
    rows = _lock(_PATIENT, patient.pk)
    if not rows or rows[0][0] is not None:
        raise JoinedMeanwhile
    if rows[0][1] is not None:
        raise NotedAsDied


def lock_resources(site: Site) -> None:
    """For whoever changes working time: what is booked before is seen, and who books after sees the change."""
    if connection.vendor == "postgresql":
        _lock(_RESOURCES, site.pk)


def ran_out(site: Site, *, now: datetime, lock: bool = False) -> list[int]:
    """Held and pencilled times that have run out. With lock, without those that are dealt with at this moment."""
    sql = _RAN_OUT + _LEFT_ALONE if lock and connection.vendor == "postgresql" else _RAN_OUT
    return [pk for (pk,) in Statement(sql, [connection.ops.adapt_datetimefield_value(now), site.pk]).rows()]


def _lock(sql: str, pk: int) -> list[tuple[object, ...]]:
    """Gives what is locked now."""
    locking = f"{sql} FOR NO KEY UPDATE" if connection.vendor == "postgresql" else sql
    return Statement(locking, [pk]).rows()

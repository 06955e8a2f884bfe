"""The first patients, in order, of whom one of several folded columns begins in a certain way."""

from collections.abc import Sequence
from dataclasses import dataclass

from clinic.patients.fields import LAST
from clinic.patients.models import Patient

# In brackets of its own: SQLite takes no order and no limit in a part of a union otherwise.
_PART = """
SELECT id FROM (
    SELECT id FROM clinic_patients_patient
    WHERE merged_into_id IS NULL AND site_id IN ({sites}) AND {column} >= %s AND {column} < %s
    ORDER BY {column} LIMIT %s
) AS part_{number}
"""


@dataclass(frozen=True, slots=True)
class Beginning:
    column: str
    start: str


def first_that_begin(sites: Sequence[int], beginnings: Sequence[Beginning], limit: int) -> list[Patient]:
    """Up to limit for each beginning, in one query; each walks along its own index and stops.

    One condition with OR would find the same, and would sort all who fit before giving the first.
    """
    parts, params = [], list[object]()
    for number, one in enumerate(beginnings):
        # Columns are named by our own code, never by what somebody typed.
        parts.append(_PART.format(sites=", ".join(["%s"] * len(sites)), column=one.column, number=number))
        params += [*sites, one.start, one.start + LAST, limit]
    if not parts or not sites:
        return []
    ids = " UNION ".join(parts)
    return list(Patient.objects.raw(f"SELECT * FROM clinic_patients_patient WHERE id IN ({ids})", params))  # noqa: S608

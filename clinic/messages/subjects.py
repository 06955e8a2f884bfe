"""Whose a subject is. Asked where two records were joined by mistake: what was made meanwhile follows its subject."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Model

from clinic.patients.models import Patient

# By the kind of subject, its table and the way from there to its patient.
_ways: dict[str, tuple[type[Model], str]] = {}


def register(subject_kind: str, model: type[Model], *, patient: str) -> None:
    _ways[subject_kind] = model, patient


def owned(subject_kind: str, keys: Iterable[int], patient: Patient) -> set[int]:
    """Which of these subjects are this record's. None of a kind that no part knows any more."""
    if subject_kind not in _ways:
        return set()
    model, way = _ways[subject_kind]
    rows: Any = model._default_manager.filter(pk__in=list(keys), **{way: patient.pk})
    return set(rows.values_list("pk", flat=True))


def registered() -> set[str]:
    return set(_ways)

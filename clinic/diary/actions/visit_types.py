"""What a manager sets up about a kind of visit."""

from dataclasses import asdict, dataclass

from django.db import transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.models import VisitType
from clinic.trail.actor import Actor
from clinic.trail.record import record


@dataclass(frozen=True, slots=True)
class PatientRules:
    """What patients may do alone: at most so many days ahead, at least so many hours before the visit."""

    may_book: bool
    days_ahead: int
    notice_hours: int


def let_patients_book(*, visit_type: VisitType, rules: PatientRules, user: User, actor: Actor) -> VisitType:
    """Holds for what patients pick from now on; what they have booked already stays."""
    require(user, Capability.SETUP, visit_type.site)
    with transaction.atomic():
        changed = {f"patient_{name}": value for name, value in asdict(rules).items()}
        for name, value in changed.items():
            setattr(visit_type, name, value)
        visit_type.version += 1
        visit_type.save(update_fields=[*changed, "version"])
        record(
            verb="diary.visit_type_changed",
            actor=actor,
            subject=("visit_type_changed", visit_type.pk),
            patient_id=None,
            site_id=visit_type.site_id,
            values=changed,
        )
    return visit_type

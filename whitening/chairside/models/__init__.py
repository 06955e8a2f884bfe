from whitening.chairside.models.incidents import Incident, IncidentStep, StepKind
from whitening.chairside.models.lights import LightCheck, LightUnit
from whitening.chairside.models.materials import Batch, BatchHold, BatchUse, UseKind
from whitening.chairside.models.sessions import IdentityCheck, Session, SessionEvent
from whitening.chairside.models.usual import UsualTime

__all__ = [
    "Batch",
    "BatchHold",
    "BatchUse",
    "IdentityCheck",
    "Incident",
    "IncidentStep",
    "LightCheck",
    "LightUnit",
    "Session",
    "SessionEvent",
    "StepKind",
    "UseKind",
    "UsualTime",
]

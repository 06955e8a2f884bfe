from clinic.diary.models.bookings import COMING, HOLDING, MOVABLE, Booking, BookingQuerySet, ResourceClaim, Status
from clinic.diary.models.hours import Closure, ClosureKind, WorkingPattern
from clinic.diary.models.resources import LightKind, Resource, ResourceKind
from clinic.diary.models.visits import Need, Segment, SegmentNeed, VisitCode, VisitType

__all__ = [
    "COMING",
    "HOLDING",
    "MOVABLE",
    "Booking",
    "BookingQuerySet",
    "Closure",
    "ClosureKind",
    "LightKind",
    "Need",
    "Resource",
    "ResourceClaim",
    "ResourceKind",
    "Segment",
    "SegmentNeed",
    "Status",
    "VisitCode",
    "VisitType",
    "WorkingPattern",
]

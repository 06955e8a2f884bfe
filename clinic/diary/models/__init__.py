from clinic.diary.models.bookings import COMING, HOLDING, Booking, BookingQuerySet, ResourceClaim, Status
from clinic.diary.models.hours import Closure, WorkingPattern
from clinic.diary.models.resources import LightKind, Resource, ResourceKind
from clinic.diary.models.visits import Need, Segment, SegmentNeed, VisitCode, VisitType

__all__ = [
    "COMING",
    "HOLDING",
    "Booking",
    "BookingQuerySet",
    "Closure",
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

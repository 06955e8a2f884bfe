from clinic.diary.models.bookings import (
    COMING,
    HOLDING,
    LAPSED,
    LONGEST,
    MOVABLE,
    Booking,
    BookingQuerySet,
    ResourceClaim,
    Status,
    Why,
)
from clinic.diary.models.changes import OwnAct, OwnChange
from clinic.diary.models.feeds import CalendarFeed, CalendarFeedQuerySet
from clinic.diary.models.hours import Closure, ClosureKind, WorkingPattern
from clinic.diary.models.invitations import InvitationEnd, TimeInvitation, TimeInvitationQuerySet
from clinic.diary.models.late import LateAnswer, LateQuestion
from clinic.diary.models.resources import LightKind, Resource, ResourceKind, ResourceQuerySet
from clinic.diary.models.visits import Need, Segment, SegmentNeed, VisitCode, VisitType
from clinic.diary.models.waitlist import Answer, FreedTime, WaitingOffer, WaitingWish, WishEnd

__all__ = [
    "COMING",
    "HOLDING",
    "LAPSED",
    "LONGEST",
    "MOVABLE",
    "Answer",
    "Booking",
    "BookingQuerySet",
    "CalendarFeed",
    "CalendarFeedQuerySet",
    "Closure",
    "ClosureKind",
    "FreedTime",
    "InvitationEnd",
    "LateAnswer",
    "LateQuestion",
    "LightKind",
    "Need",
    "OwnAct",
    "OwnChange",
    "Resource",
    "ResourceClaim",
    "ResourceKind",
    "ResourceQuerySet",
    "Segment",
    "SegmentNeed",
    "Status",
    "TimeInvitation",
    "TimeInvitationQuerySet",
    "VisitCode",
    "VisitType",
    "WaitingOffer",
    "WaitingWish",
    "Why",
    "WishEnd",
    "WorkingPattern",
]

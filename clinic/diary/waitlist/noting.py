"""What the trail says about the waiting list, and who speaks where nobody is signed in."""

from clinic.diary.models import WaitingOffer, WaitingWish
from clinic.trail.actor import Actor
from clinic.trail.record import record

# Holds the times that are on offer; the diary shows the name.
WAITLIST = Actor(kind="system", id="waitlist", name="the waiting list")
# The kind of message, the purpose of its link, and what both are about.
OFFER = "waitlist_offer"


def note_wish(verb: str, wish: WaitingWish, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("waitlist_wish", wish.pk),
        patient_id=wish.patient_id,
        site_id=wish.site_id,
        values={
            "visit": wish.visit_type.name,
            "weekdays": wish.weekdays,
            "not_before": _clock(wish.not_before),
            "over_by": _clock(wish.over_by),
            "notice_hours": wish.notice_hours,
            "since_on": wish.since_on.isoformat(),
            "until_on": wish.until_on.isoformat() if wish.until_on else "",
            "instead_of": wish.booking_id,
            "because": str(wish.ended_because),
        },
    )


def note_offer(verb: str, offer: WaitingOffer, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=(OFFER, offer.pk),
        patient_id=offer.wish.patient_id,
        site_id=offer.wish.site_id,
        values={
            "starts_at": offer.starts_at.isoformat(),
            "answer_by": offer.answer_by.isoformat(),
            "wish": offer.wish_id,
            "booking": offer.booking_id,
        },
    )


def _clock(value: object) -> str:
    return f"{value:%H:%M}" if value is not None else ""

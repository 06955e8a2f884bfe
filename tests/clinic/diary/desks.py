"""One desk of a race for the same few times: what it tries, and what it is told."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import islice
from random import Random

from django.db import Error, transaction

from clinic.accounts.models import Site
from clinic.diary import actions
from clinic.diary.actions import placing
from clinic.diary.engine.spans import to_minute
from clinic.diary.models import COMING, Booking, Status, TimeInvitation, VisitCode, VisitType
from clinic.diary.openings import Opening, Search, Wanted
from clinic.diary.refusals import BookedAlready, CallUs, InvitationOver
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM, Actor
from tests.cast import NOW
from tests.clinic.diary.house import at

FIRST_DAY = date(2026, 3, 4)
# After these another time is wanted.
TIME_GONE = (actions.SlotTaken, actions.OutsideOpeningHours, actions.HoldEnded)
NOT_NOW = (actions.PatientBusy, actions.NotPossibleNow, actions.PencilEnded, BookedAlready, CallUs, InvitationOver)


def by_patient(patient: Patient) -> Actor:
    return Actor(kind="patient", id=str(patient.pk), name=patient.name)


@dataclass(frozen=True)
class Offer:
    """A time that everybody wants. look: what nobody changes during the race, read once."""

    look: Search
    visit_type: VisitType
    cycles: int
    opening: Opening


def offers(site: Site, *, days: int) -> list[Offer]:
    """Every quarter hour of these days at which some visit fits into an empty diary."""
    found = []
    for visit_type in VisitType.objects.filter(site=site, code__in=[VisitCode.CONSULTATION, VisitCode.TREATMENT]):
        cycles = 4 if visit_type.code == VisitCode.TREATMENT else 0
        look = Search(site=site, wanted=Wanted(visit_type, cycles), day=FIRST_DAY)
        start = to_minute(at(0, day=FIRST_DAY))
        window = (start, start + days * 24 * 60)
        some = look.openings(window, look.free(window, claims=False))
        found += [Offer(look, visit_type, cycles, opening) for opening in some]
    return found


class Desk:
    def __init__(self, seed: int, *, patients: Sequence[Patient], offered: Sequence[Offer]) -> None:
        self.random = Random(seed)  # noqa: S311  (which times are wanted, not a secret)
        self.patients, self.offered, self.site = patients, offered, patients[0].site

    def attempt(self) -> str:
        """For half of the attempts every hold has run out, so that whoever books there frees it first."""
        offer, patient = self.random.choice(self.offered), self.random.choice(self.patients)
        now = NOW + self.random.choice([timedelta(), actions.HOLD_FOR])
        way = self.random.choice([self.deed, self.look_and_claim, self.claim_blindly, self.claim_blindly])
        try:
            way(offer, patient, now)
        except TIME_GONE as refusal:
            return refusal.code if self.has_next(offer) else f"{refusal.code}, and nothing instead"
        except NOT_NOW as refusal:
            return refusal.code
        except Error as error:
            return f"server error: {error!r}"
        return "done"

    def deed(self, offer: Offer, patient: Patient, now: datetime) -> None:
        """What people do: book, hold, pencil, move, cancel, let go, pick by link; and the tick that ends holds."""
        if self.random.random() < 0.05:
            actions.end_holds_due(now=now)
            actions.lapse_due(now=now)
        coming = Booking.objects.select_related("site", "patient", "visit_type").filter(status__in=COMING)
        held = coming.order_by("pk")[self.random.randrange(20) :].first() if self.random.random() < 0.5 else None
        if held is None:
            self.place(offer, patient, now)
        elif self.random.random() < 0.3:
            self.by_link(offer, held, now)
        else:
            self.change(offer, held, now)

    def place(self, offer: Offer, patient: Patient, now: datetime) -> None:
        """Whoever has a link picks the time alone."""
        start_at = offer.opening.start_at
        invitation = TimeInvitation.objects.filter(patient=patient).open(now=now).first()
        if invitation is not None:
            actions.pick(invitation=invitation, start_at=start_at, actor=by_patient(patient), now=now)
            return
        wish = actions.BookingRequest(patient, offer.visit_type, start_at, offer.cycles)
        if self.random.random() < 0.3:
            # Pencilled until the moment at which holds run out.
            wish = replace(wish, lapses_at=NOW + actions.HOLD_FOR)
        give = actions.hold if self.random.random() < 0.3 else actions.book
        give(site=self.site, request=wish, actor=SYSTEM, now=now)

    def change(self, offer: Offer, held: Booking, now: datetime) -> None:
        if held.status == Status.PENDING:
            act = actions.book_held if self.random.random() < 0.5 else actions.let_go
            act(booking=held, actor=SYSTEM, now=now)
        elif held.status == Status.PROPOSED and self.random.random() < 0.5:
            actions.confirm(booking=held, actor=SYSTEM, now=now)
        elif self.random.random() < 0.5:
            actions.move(booking=held, start_at=offer.opening.start_at, actor=SYSTEM, now=now)
        else:
            actions.cancel(booking=held, by="practice", reason="", actor=SYSTEM, now=now)

    def by_link(self, offer: Offer, held: Booking, now: datetime) -> None:
        """The patient on their phone, while the desks go on."""
        actor, act = by_patient(held.patient), self.random.choice(["keep", "move", "move", "cancel"])
        if act == "keep":
            actions.keep_visit(booking=held, actor=actor, now=now)
        elif act == "move":
            actions.move_visit(booking=held, start_at=offer.opening.start_at, actor=actor, now=now)
        else:
            actions.cancel_visit(booking=held, why="", actor=actor, now=now)

    def look_and_claim(self, offer: Offer, patient: Patient, now: datetime) -> None:
        """The heart of every booking, without its trail and its messages: locked, looked for, claimed."""
        with placing.taken_means_taken(), transaction.atomic():
            placing.lock(self.site, patient, now=now)
            self._claim(offer, placing.opening_at(offer.look, offer.opening.start_at), patient, now)

    def claim_blindly(self, offer: Offer, patient: Patient, now: datetime) -> None:
        """Neither locked nor looked for: nobody but the database stands in the way."""
        with placing.taken_means_taken(), transaction.atomic():
            self._claim(offer, offer.opening, patient, now)

    def has_next(self, offer: Offer) -> bool:
        """Whether whoever came too late is offered times instead, in the days from there on."""
        start_at = offer.opening.start_at
        window = (to_minute(start_at), to_minute(start_at + timedelta(days=3)))
        found = list(islice(offer.look.openings(window, offer.look.free(window)), 3))
        return len(found) == 3 and all(one.start_at >= start_at for one in found)

    def _claim(self, offer: Offer, opening: Opening, patient: Patient, now: datetime) -> None:
        given = {"visit_type": offer.visit_type, "cycles": offer.cycles, "status": Status.BOOKED, "booked_at": now}
        booking = Booking.objects.create(site=self.site, patient=patient, **given, **placing.times(self.site, opening))
        placing.claim(booking, opening)

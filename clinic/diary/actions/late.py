"""A patient who is late: the visit begins when they are here with what then fits, or the dentist is asked first."""

from collections.abc import Mapping
from datetime import datetime

from django.db import IntegrityError, transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.actions.booking import check_may_change, place_again
from clinic.diary.actions.placing import taken_means_taken
from clinic.diary.actions.stepping import NOTHING_TO_TAKE_BACK, note, step
from clinic.diary.late import Late, wanted_late, what_fits
from clinic.diary.models import Booking, LateAnswer, LateQuestion, Status
from clinic.diary.refusals import AskedAlready, MoreThanAgreed, NothingFits, NotPossibleNow
from clinic.trail.actor import Actor
from clinic.trail.record import record

LATE_CAN_BEGIN = frozenset({Status.BOOKED, Status.ARRIVED})


def begin_late(*, booking: Booking, here_at: datetime, cycles: int, actor: Actor, now: datetime) -> Booking:
    """Fits the visit to the patient's seat at `here_at`, with the people and things that it has, and says why.

    The time agreed with the patient stays; nobody is told, for they stand here or are on their way. Raises
    MoreThanAgreed, NotPossibleNow, SlotTaken or OutsideOpeningHours.
    """
    if cycles > booking.agreed_cycles:
        raise MoreThanAgreed
    wanted = wanted_late(booking, here_at=here_at, cycles=cycles, now=now)
    check_may_change(booking, now=now, allowed=LATE_CAN_BEGIN)
    agreed = booking.agreed_cycles
    with taken_means_taken(), transaction.atomic():
        booking = place_again(booking, wanted, booking.starts_at, now, allowed=LATE_CAN_BEGIN)
        booking.late_minutes = wanted.late_minutes
        booking.cycles, booking.cycles_before = cycles, agreed if cycles < agreed else None
        booking.save()
        booking.late_questions.filter(answer=LateAnswer.NONE).delete()
        values = {"late_minutes": wanted.late_minutes, "cycles": cycles, "cycles_agreed": agreed}
        _record("diary.began_late", booking, here_at, actor, values)
    return booking


def ask_about_late(*, booking: Booking, here_at: datetime, actor: Actor, now: datetime) -> LateQuestion:
    """Puts a line on Today for whoever treats. Raises AskedAlready or NotPossibleNow."""
    if booking.status not in LATE_CAN_BEGIN:
        raise NotPossibleNow(status=booking.get_status_display())
    try:
        with transaction.atomic():
            question = LateQuestion.objects.create(
                booking=booking, was_at=booking.starts_at, here_at=here_at, asked_at=now, asked_by=actor.name
            )
            _record("diary.asked_about_late", booking, here_at, actor, {})
    except IntegrityError as error:
        raise AskedAlready from error
    return question


def answer_about_late(
    *, question: LateQuestion, answer: LateAnswer, user: User, actor: Actor, now: datetime
) -> LateQuestion:
    """FIT begins the visit with the most that fits by now. Raises NothingFits and what `begin_late` raises."""
    booking = question.booking
    require(user, Capability.SESSION_CLOSE, booking.site)
    with transaction.atomic():
        changes = {"answer": answer, "answered_at": now, "answered_by": actor.name}
        if not LateQuestion.objects.filter(pk=question.pk, answer=LateAnswer.NONE).update(**changes):
            raise NotPossibleNow(status=booking.get_status_display())
        if answer == LateAnswer.FIT:
            _begin_with_most(what_fits(booking, here_at=question.here_at, now=now), actor=actor, now=now)
        _record("diary.answered_about_late", booking, question.here_at, actor, {"answer": str(answer)})
    question.refresh_from_db()
    return question


def comes_another_time(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Somebody who is here leaves again and gets another time: from then on the visit can be moved."""
    with transaction.atomic():
        changes = {"arrived_at": None, **NOTHING_TO_TAKE_BACK}
        booking = step(booking, {Status.ARRIVED}, Status.BOOKED, changes)
        note("diary.leaves_again", booking, actor)
    return booking


def _begin_with_most(late: Late, *, actor: Actor, now: datetime) -> None:
    if not late.cycles:
        raise NothingFits
    begin_late(booking=late.booking, here_at=late.here_at, cycles=late.cycles[0], actor=actor, now=now)


def _record(verb: str, booking: Booking, here_at: datetime, actor: Actor, values: Mapping[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("booking", booking.pk),
        patient_id=booking.patient_id,
        site_id=booking.site_id,
        values={"here_at": f"{here_at.astimezone(booking.site.zone):%H:%M}", **values},
    )

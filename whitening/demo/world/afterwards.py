"""What follows a session in the demo: answers, the calls they lead to, the review. A practice that looks after its own.

Only what is younger than a working day is left open, so that Today has something true to show.
"""

from datetime import datetime, timedelta
from random import Random

from clinic.diary import actions as diary
from clinic.messages.sweep import sweep_until_settled
from clinic.trail.actor import Actor
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.chairside.models import Session
from whitening.demo.world import lives
from whitening.demo.world.days import live_until
from whitening.demo.world.lives import Life
from whitening.demo.world.passing import living_at
from whitening.demo.world.practice import House
from whitening.recall.actions import (
    ReviewDetails,
    close_escalation,
    log_attempt,
    record_reply,
    record_review,
    take_escalation,
    type_reply,
)
from whitening.recall.models import (
    AttemptResult,
    Escalation,
    FollowUp,
    FollowUpKind,
    FollowUpState,
    ReviewDecision,
    Satisfaction,
)
from whitening.recall.reading_hours import reads_at
from whitening.recall.result_letter import letter_of
from whitening.recall.triage import Answers

ANSWERS_AFTER = timedelta(hours=50)
ANSWERS = 0.85  # the share of patients who answer by themselves


def follow(life: Life, session: Session, *, month: str, end: datetime) -> None:
    """The two-day answer and the month review, where their days have come before `end`."""
    closed_at = session.closed_at or life.now
    if closed_at + ANSWERS_AFTER >= end:
        return
    live_until(life, closed_at + ANSWERS_AFTER)
    if life.random.random() < ANSWERS:
        # The first who answers is worried, whatever the dice say: one worry that was looked after is there to read.
        _answer(life, session, _feels(life.random) if Escalation.objects.exists() else _said(5))
        _see_to_it(life, end)
        _asked_again(life, session, end)
    else:
        _called(life, session, end)
    _reviewed(life, closed_at + timedelta(days=life.random.randint(29, 38), hours=2), month=month, end=end)


def one_still_waits(house: House, *, today_at: datetime) -> None:
    """Yesterday evening somebody who was here lately wrote that it is not well yet; nobody has read it so far."""
    said_at = today_at - timedelta(hours=3, minutes=50)
    lately = Session.objects.filter(closed_at__lte=said_at - ANSWERS_AFTER, case__closed_at=None, case__site=house.site)
    session = lately.select_related("case__site", "case__patient", "closed_by").order_by("closed_at").last()
    if session is None or Escalation.objects.open().exists():
        return
    patient = session.case.patient
    themselves = Actor(kind="patient", id=str(patient.pk), name=patient.name)
    # In the first days it is strong, later it is some of it left.
    is_early = session.closed_at is not None and said_at - session.closed_at < timedelta(days=6)
    with living_at(said_at):
        record_reply(session=session, answers=_said(5 if is_early else 2), actor=themselves, now=said_at)
        # The person on call was told at once.
        sweep_until_settled(now=said_at)


def _answer(life: Life, session: Session, answers: Answers) -> None:
    with living_at(life.now):
        record_reply(session=session, answers=answers, actor=life.themselves, now=life.now)


def _see_to_it(life: Life, end: datetime) -> None:
    """The dentist on call takes it soon after the doors are open, calls, and writes down what came of it."""
    dentist = life.house.one("dentist")
    for escalation in Escalation.objects.open().filter(case=life.case).select_related("case__site"):
        taken_at = reads_at(life.house.site, now=life.now) + timedelta(minutes=25)
        if taken_at + timedelta(minutes=12) >= end:
            return
        live_until(life, taken_at)
        with living_at(life.now):
            take_escalation(escalation=escalation, user=dentist, actor=dentist.actor, now=life.now)
        live_until(life, taken_at + timedelta(minutes=12))
        words = "Called: it is easing off. Paste for sensitive teeth, and call again if it grows."
        with living_at(life.now):
            close_escalation(escalation=escalation, words=words, user=dentist, actor=dentist.actor, now=life.now)


def _asked_again(life: Life, session: Session, end: datetime) -> None:
    again = FollowUp.objects.open().filter(session=session, kind=FollowUpKind.RE_ASK).first()
    if again is None or again.due_at + timedelta(hours=3) >= end:
        return
    live_until(life, again.due_at + timedelta(hours=3))
    _answer(life, session, _said(life.random.choice((0, 0, 1))))


def _called(life: Life, session: Session, end: datetime) -> None:
    """Silent until day four; then an assistant calls and types in what the patient says."""
    check = FollowUp.objects.select_related("case__site").get(session=session, kind=FollowUpKind.TWO_DAY)
    called_at = reads_at(life.house.site, now=check.call_by) + timedelta(minutes=90)
    if called_at >= end:
        return
    live_until(life, called_at)
    nurse = life.house.one("assistant")
    check.refresh_from_db()
    if check.state != FollowUpState.CALL:
        return
    with living_at(life.now):
        words = "Had not seen the message."
        log_attempt(
            follow_up=check,
            seen_version=check.version,
            result=AttemptResult.REACHED,
            words=words,
            user=nurse,
            actor=nurse.actor,
            now=life.now,
        )
        type_reply(session=session, answers=_said(0), user=nurse, actor=nurse.actor, now=life.now)


def _reviewed(life: Life, asked_at: datetime, *, month: str, end: datetime) -> None:
    if asked_at >= end:
        return
    live_until(life, asked_at)
    visit = lives.book(life, VisitPurpose.REVIEW, earliest_at=life.now)
    if visit is None or visit.booking.ends_at >= end:
        return
    live_until(life, visit.booking.starts_at)
    with living_at(life.now):
        diary.arrive(booking=lives.fresh(visit), actor=life.house.one("dentist").actor, now=life.now)
    review(life, visit, month=month)


def review(life: Life, visit: CaseVisit, *, month: str) -> None:
    """Whoever is here is looked at, and that was the visit."""
    dentist = life.house.one("dentist")
    details = ReviewDetails(
        tab=month,
        sensitivity=0,
        satisfaction=Satisfaction(life.random.choice((3, 4, 4, 5))),
        gums_quiet=True,
        decision=ReviewDecision.FINISHED,
        check_months=life.random.choice((3, 6, 12)),
    )
    with living_at(life.now):
        record_review(case=life.case, details=details, user=dentist, actor=dentist.actor, now=life.now)
        diary.finish(booking=lives.fresh(visit), actor=dentist.actor, now=life.now)
        # Handed over as the patient leaves.
        life.case.refresh_from_db()
        letter_of(life.case, actor=dentist.actor, now=life.now)


def _feels(random: Random) -> Answers:
    score = random.choices((0, 1, 2, 3, 5), weights=(40, 25, 20, 10, 5))[0]
    gums = random.choices(("fine", "white_fading"), weights=(85, 15))[0]
    return _said(score, gums=gums, satisfaction=random.choice((3, 4, 4, 5)))


def _said(score: int, *, gums: str = "fine", satisfaction: int = 4) -> Answers:
    return Answers(
        sensitivity=score,
        falling=True,
        woke_at_night=False,
        one_tooth=False,
        gums=gums,
        swelling=False,
        eye=False,
        painkillers="none",
        satisfaction=satisfaction,
    )

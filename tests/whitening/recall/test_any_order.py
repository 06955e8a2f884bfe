"""Whatever happens to one person, in whatever order: told as a plain list has it, once, and never what they refused."""

from collections import Counter
from collections.abc import Callable
from datetime import datetime, time, timedelta
from typing import ClassVar

import pytest
import time_machine
from django.core import mail
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from clinic.diary import actions
from clinic.diary.models import Booking
from clinic.messages.actions.choosing import choose
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.models import DueMessage, State
from clinic.messages.models.due import DueMessageQuerySet
from clinic.messages.sweep import sweep_until_settled
from clinic.patients.actions import note_death, take_death_back
from clinic.patients.models import Channel, Patient, Purpose
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary import house
from tests.clinic.patients.test_joining import said
from tests.clinic.patients.twice import join, second_record
from tests.whitening.course import ready_to_sign, signed
from tests.whitening.recall import afterwards
from tests.whitening.recall.plainly import APPOINTMENT, CHECK, DAY, LONDON, Key, Person, Said, Visit, wall
from whitening.chairside.models import Session
from whitening.consent.actions import withdraw
from whitening.recall.actions import record_reply, ticking
from whitening.recall.models import FollowUp, FollowUpKind
from whitening.recall.triage import Answers

pytestmark = pytest.mark.django_db
STEPS = 14
# What is written to colleagues is no message to the person.
TO_COLLEAGUES = {"on_call_alert", "raised_again"}
GONE = {State.HANDED_OVER, State.UNCERTAIN}
days = st.integers(1, 60)
picks = st.integers(0, 9)
purposes = st.sampled_from([Purpose.APPOINTMENT, Purpose.SAFETY])


class AnyOrder(RuleBasedStateMachine):
    """Each sequence is one savepoint of a test's transaction, and begins when a session closes."""

    cast: ClassVar[Cast]
    session: ClassVar[Session]
    clock: ClassVar[time_machine.Traveller]
    done: ClassVar[Counter[str]]
    undone: transaction.Atomic | None = None

    @initialize()
    def begin(self) -> None:
        self.undone = transaction.atomic()
        # As the test's own: a claim must be committed by itself, and refuses to begin inside any other.
        self.undone._from_testcase = True  # type: ignore[attr-defined]
        self.undone.__enter__()
        self.clock.move_to(NOW)
        mail.outbox.clear()
        self.person = Person(NOW)
        self.withdrawn = False
        self.records, self.patient_id = 1, self.cast.patient.pk
        planned = {row.kind: row.pk for row in FollowUp.objects.all()}
        self.check = planned[FollowUpKind.TWO_DAY]
        self.person.closed_session(self.check, planned[FollowUpKind.REVIEW])

    def teardown(self) -> None:
        if self.undone is None:
            return
        self.done["sequences"] += 1
        transaction.set_rollback(True)
        self.undone.__exit__(None, None, None)

    @precondition(lambda self: not self.person.died)
    @rule(ahead=days)
    def book(self, ahead: int) -> None:
        starts_at = self._free_time(ahead)
        booking = house.book(self.cast, starts_at, patient=self._patient(), now=self.person.now)
        self.person.booked(Visit(booking.pk, booking.starts_at))
        self._did("booked")

    @precondition(lambda self: self._coming())
    @rule(pick=picks, ahead=days)
    def reschedule(self, pick: int, ahead: int) -> None:
        visit = self._coming()[pick % len(self._coming())]
        starts_at = self._free_time(ahead)
        booking = Booking.objects.get(pk=visit.pk)
        actions.move(booking=booking, start_at=starts_at, actor=actor_of(self.cast.desk), now=self.person.now)
        self.person.moved(visit, starts_at)
        self._did("moved")

    @precondition(lambda self: self._coming())
    @rule(pick=picks)
    def cancel(self, pick: int) -> None:
        visit = self._coming()[pick % len(self._coming())]
        booking = Booking.objects.get(pk=visit.pk)
        desk = actor_of(self.cast.desk)
        actions.cancel(booking=booking, by="patient", reason="", actor=desk, now=self.person.now)
        self.person.cancelled(visit)
        self._did("cancelled")

    @precondition(lambda self: not self.person.died)
    @rule(sore=st.booleans())
    def reply(self, sore: bool) -> None:
        answers = Answers(sensitivity=5, falling=True) if sore else afterwards.WELL
        before = set(FollowUp.objects.values_list("pk", flat=True))
        record_reply(session=self.session, answers=answers, actor=actor_of(self.cast.clinician), now=self.person.now)
        self.person.answered(self.check)
        for again in FollowUp.objects.exclude(pk__in=before):
            self.person.plan(Key("follow_up", again.pk, CHECK), self.person.on(2), self.person.on(2) + DAY)
        self._did("replied")

    @precondition(lambda self: not self.person.died)
    @rule(purpose=purposes, allowed=st.booleans())
    def choose(self, purpose: Purpose, allowed: bool) -> None:
        choose(
            patient=self._patient(),
            channel=Channel.EMAIL,
            choices={purpose: allowed},
            wordings={purpose: "Yes or no."},
            actor=actor_of(self.cast.desk),
            now=self.person.now,
        )
        self.person.chose(purpose.value, allowed=allowed)
        self._did("allowed" if allowed else "refused")

    @precondition(lambda self: not self.person.died and self.records < 4)
    @rule(ahead=days, refused=st.booleans(), keeps_first=st.booleans())
    def merge(self, ahead: int, refused: bool, keeps_first: bool) -> None:
        """A second record comes to light, with a visit of its own; perhaps it was told not to write about visits."""
        self.records += 1
        second = second_record(self.cast, f"Amara Nwosu {self.records}", email="amara@example.org")
        starts_at = self._free_time(ahead)
        booking = house.book(self.cast, starts_at, patient=second, now=self.person.now)
        self.person.booked(Visit(booking.pk, booking.starts_at))
        if refused:
            said(self.cast, second, Purpose.APPOINTMENT, False, now=self.person.now)
        both = (self._patient(), second) if keeps_first else (second, self._patient())
        self.patient_id = join(self.cast, *both, now=self.person.now).pk
        if refused or APPOINTMENT in self.person.refused:
            self.person.chose(APPOINTMENT, allowed=False)
        self._did("merged")

    @precondition(lambda self: not self.withdrawn)
    @rule()
    def withdraw(self) -> None:
        """Nothing more is done to the teeth; whoever was treated is asked all the same how they are."""
        actor = actor_of(self.cast.clinician)
        withdraw(case=self.session.case, words="Wants no more of it.", actor=actor, now=self.person.now)
        self.withdrawn = True
        self._did("withdrawn")

    @precondition(lambda self: not self.person.died)
    @rule()
    def die(self) -> None:
        note_death(patient=self._patient(), actor=actor_of(self.cast.desk), now=self.person.now)
        self.person.passed_away()
        self._did("died")

    @precondition(lambda self: self.person.died)
    @rule()
    def live_after_all(self) -> None:
        desk = self.cast.desk
        take_death_back(patient=self._patient(), user=desk, actor=actor_of(desk), now=self.person.now)
        self.person.lives()

    @rule(hours=st.sampled_from([1, 5, 12, 24, 24, 48, 168, 500]), ticks=st.booleans())
    def time_passes(self, hours: int, ticks: bool) -> None:
        """Without a tick the worker was away so long; the next one catches up."""
        self.person.now += timedelta(hours=hours)
        self.clock.move_to(self.person.now)
        if ticks:
            self.tick()

    @rule()
    def tick(self) -> None:
        before = len(mail.outbox)
        ticking.tick(now=self.person.now)
        sweep_until_settled(now=self.person.now)
        self._look_at_mails(before)
        rows = {self._key(row): row for row in self._rows()}
        for one in [one for one in self.person.waiting() if one.due_at <= self.person.now]:
            self._was_held_back(one, rows[one.key])

    def _was_held_back(self, one: Said, row: DueMessage) -> None:
        """Due, and no mail of it: only for a reason, and only in a state that says so."""
        assert not self.person.must(one), f"{one.key} was held back: {row.state} {row.reason}"
        if row.state == State.MISSED:
            assert self.person.is_too_late(one), f"{one.key} counts as missed: {row.reason}"
            one.over = "missed"
        elif row.state == State.CANCELLED:
            assert one.purpose in self.person.refused, f"{one.key} was cancelled: {row.reason}"
            one.over = "refused"
        else:
            # Until an hour or a day on which it may go out.
            assert row.due_at > self.person.now, f"{one.key} is due and was left: {row.state} {row.reason}"

    def _look_at_mails(self, before: int) -> None:
        """Each new one may go out, and none twice."""
        by_name = {row.message_id: row for row in self._rows().exclude(message_id="")}
        # Of messages to colleagues there are mails as well.
        names = [str(sent.extra_headers["Message-ID"]) for sent in mail.outbox]
        assert len(set(names)) == len(names)
        for name in names[before:]:
            row = by_name.get(name)
            if row is None:
                continue
            one = self._said(row)
            assert self.person.may(one), f"{one.key} went out: {one}"
            one.sent = True
            self.done["mails"] += 1

    @invariant()
    def the_table_agrees(self) -> None:
        """Whatever should be planned is, and nothing else; what is over does not wait any more."""
        rows = {self._key(row): row for row in self._rows()}
        assert set(rows) == set(self.person.said)
        for key, one in self.person.said.items():
            row = rows[key]
            assert (row.state in GONE) == one.sent, (key, row.state, row.reason)
            if not one.sent and one.over not in ("", "answered"):
                assert row.state == (State.MISSED if one.over == "missed" else State.CANCELLED), (key, one.over)
            if not one.sent and not one.over and row.state == State.PLANNED:
                assert row.due_at == one.due_at or (one.is_back and row.due_at > one.due_at), key

    def _rows(self) -> DueMessageQuerySet:
        return DueMessage.objects.exclude(kind__in=TO_COLLEAGUES).filter(step__lt=NEXT_TRY)

    def _key(self, row: DueMessage) -> Key:
        return Key(row.subject_kind, row.subject_id, row.kind, row.version)

    def _said(self, row: DueMessage) -> Said:
        return self.person.said[self._key(row)]

    def _patient(self) -> Patient:
        return Patient.objects.get(pk=self.patient_id)

    def _coming(self) -> list[Visit]:
        """Such that nobody speaks of short notice."""
        soon = self.person.now + DAY
        return [one for one in self.person.visits if one.stands and one.starts_at > soon and not self.person.died]

    def _free_time(self, ahead: int) -> datetime:
        """A weekday in the opening hours on which there is no visit yet."""
        taken = {one.starts_at.astimezone(LONDON).date() for one in self.person.visits if one.stands}
        day = self.person.now.astimezone(LONDON).date() + ahead * DAY
        while day.weekday() > 4 or day in taken:
            day += DAY
        return wall(day, time(10 + ahead % 5, 30))

    def _did(self, what: str) -> None:
        self.done[what] += 1


def live(cast: Cast, session: Session, clock: time_machine.Traveller, sequences: int) -> Counter[str]:
    class Here(AnyOrder):
        pass

    Here.cast, Here.session, Here.clock, Here.done = cast, session, clock, Counter()
    run_state_machine_as_test(
        Here,
        settings=settings(
            max_examples=sequences,
            stateful_step_count=STEPS,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            # A sequence is short enough to read; shrinking one takes minutes.
            phases=[Phase.explicit, Phase.reuse, Phase.generate],
            report_multiple_bugs=False,
        ),
    )
    return Here.done


@pytest.mark.soak
@pytest.mark.timeout(4 * 3600)
def test_told_as_a_plain_list_has_it(
    cast: Cast, clock: time_machine.Traveller, pytestconfig: pytest.Config, note: Callable[..., None]
) -> None:
    signed(cast, ready_to_sign(cast))
    session = afterwards.a_closed_session(cast)
    house.furnish(cast)
    sequences = 5_000 if pytestconfig.getoption("--soak") else 15
    done = live(cast, session, clock, sequences)
    note(**done)
    assert done["sequences"] >= sequences
    # In a few sequences the rarer events may all fail to come up.
    rare = ("moved", "cancelled", "replied", "refused", "died", "merged") if pytestconfig.getoption("--soak") else ()
    assert min(done[one] for one in ("mails", "booked", *rare)) > 0

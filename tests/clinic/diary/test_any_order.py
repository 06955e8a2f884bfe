"""Whatever is done in the diary, in whatever order, over a night in which the clock changes: as a plain list has it."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Any, ClassVar

import pytest
from django.db import connection, transaction
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

from clinic.accounts.models import Site
from clinic.diary import actions
from clinic.diary.actions.closing import close
from clinic.diary.actions.setting_up import change_hours
from clinic.diary.engine.changing import Change
from clinic.diary.models import (
    Booking,
    Closure,
    Resource,
    ResourceClaim,
    Segment,
    SegmentNeed,
    VisitCode,
    VisitType,
    WorkingPattern,
)
from clinic.diary.openings import Wanted, find
from clinic.diary.refusals import VisitsOutside
from clinic.patients.models import Patient
from clinic.trail.refusals import Refusal
from tests.cast import Cast, actor_of
from tests.clinic.diary import worlds
from tests.clinic.diary.house import another_patient
from tests.clinic.diary.ics import NIGHTS
from tests.clinic.diary.plainly import Diary, Kept
from tests.clinic.diary.worlds import DAY, MINUTE, Piece, Times, instant, when

DAYS = 3
STEPS, TIDIED_AFTER = 12, 250
# One room, so that a visit at the same time stands in the way of the next.
WORKING = ("Willow", "Cleo Haddad", "Bo Lindqvist", "Ari Zieliński")
# Through the hours in which clocks change, and an ordinary morning.
STRETCHES = [(time(0), time(5, 30)), (time(8), time(12))]
OTHERS = [[], [(time(0), time(2, 30))], [(time(2, 15), time(12))], [(time(3), time(4)), (time(9, 10), time(11))]]
VISITS = {
    "Long": [Piece(20, ("examiner", "room")), Piece(25, ("assistant", "room")), Piece(10, ("examiner", "room"))],
    "Short": [Piece(15, ("examiner", "room")), Piece(5, ("room",))],
}
# The hours of the night and a few of the mornings before and after it, so that they are often wanted twice.
quarters = st.sampled_from([36, *range(96, 117), 129, 130, 132, 193, 226, 228])
picks = st.integers(0, 9)
names = st.sampled_from(list(VISITS))


class AnyOrder(RuleBasedStateMachine):
    """Each sequence is one savepoint of a test's transaction."""

    cast: ClassVar[Cast]
    patients: ClassVar[list[Patient]]
    visit_types: ClassVar[dict[str, VisitType]]
    done: ClassVar[dict[str, int]]
    undone: transaction.Atomic | None = None

    @initialize(
        night=st.sampled_from(NIGHTS), wanted=st.lists(st.tuples(names, quarters, picks), min_size=3, max_size=5)
    )
    def begin(self, night: tuple[str, date], wanted: list[tuple[str, int, int]]) -> None:
        self.undone = transaction.atomic()
        self.undone.__enter__()
        zone, day = night
        self.first_on = day - DAY
        Site.objects.filter(pk=self.cast.fernbrook.pk).update(timezone=zone)
        self.site = Site.objects.get(pk=self.cast.fernbrook.pk)
        self.things = {one.name: one for one in Resource.objects.filter(site=self.site, name__in=WORKING)}
        days = [self.first_on + n * DAY for n in range(DAYS)]
        self.diary = Diary(zone, self._moment(0), {name: dict.fromkeys(days, STRETCHES) for name in WORKING})
        WorkingPattern.objects.all().delete()
        WorkingPattern.objects.bulk_create(
            WorkingPattern(
                resource=one, weekday=on.weekday(), from_time=start, to_time=end, from_on=on, until_on=on + DAY
            )
            for one in self.things.values()
            for on in days
            for start, end in STRETCHES
        )

        for name, quarter, patient in wanted:
            self.book(name, quarter, patient, person=False)

    def teardown(self) -> None:
        # What Hypothesis gives up before it has begun has nothing to undo but the test's own transaction.
        if self.undone is None:
            return
        self.done["sequences"] += 1
        transaction.set_rollback(True)
        self.undone.__exit__(None, None, None)
        if self.done["sequences"] % TIDIED_AFTER == 0 and connection.vendor == "postgresql":
            clear_what_was_undone()

    @rule(name=names, quarter=quarters, patient=picks, person=st.booleans())
    def book(self, name: str, quarter: int, patient: int, person: bool) -> None:
        self._give(actions.book, "booked", self._wish(name, quarter, patient, person=person))

    @rule(name=names, quarter=quarters, patient=picks, hours=st.integers(1, 30))
    def pencil(self, name: str, quarter: int, patient: int, hours: int) -> None:
        lapses_at = self.diary.now + timedelta(hours=hours)
        self._give(actions.book, "proposed", self._wish(name, quarter, patient, lapses_at=lapses_at))

    @rule(name=names, quarter=quarters, patient=picks)
    def hold(self, name: str, quarter: int, patient: int) -> None:
        self._give(actions.hold, "pending", self._wish(name, quarter, patient))

    @precondition(lambda self: self.diary.kept)
    @rule(pick=picks, quarter=quarters)
    def move(self, pick: int, quarter: int) -> None:
        self._move(self._pick(pick), self._moment(quarter))

    @precondition(lambda self: self.diary.kept)
    @rule(pick=picks, days=st.integers(-1, 2))
    def move_to_another_day(self, pick: int, days: int) -> None:
        """The same time on the wall, over the night in which the clock changes."""
        one = self._pick(pick)
        wall = one.times[0].astimezone(self.site.zone)
        self._move(one, instant(when(self.diary.zone, wall.date() + days * DAY, wall.time())))

    @precondition(lambda self: self.diary.kept)
    @rule(pick=picks)
    def cancel(self, pick: int) -> None:
        one = self._pick(pick)
        expected = self.diary.cancel(one)
        given = {"by": "patient", "reason": ""}
        self._expect(expected, actions.cancel, booking=self._row(one), now=self.diary.now, **given)

    @precondition(lambda self: self.diary.kept)
    @rule(pick=picks)
    def restore(self, pick: int) -> None:
        one = self._pick(pick)
        self._expect(self.diary.restore(one), actions.take_back, booking=self._row(one), now=self.diary.now)

    @precondition(lambda self: self.diary.kept)
    @rule(pick=picks)
    def book_held(self, pick: int) -> None:
        one = self._pick(pick)
        self._expect(self.diary.book_held(one), actions.book_held, booking=self._row(one), now=self.diary.now)

    @precondition(lambda self: any(one.status == "pending" for one in self.diary.kept))
    @rule(pick=picks)
    def let_go(self, pick: int) -> None:
        holds = [one for one in self.diary.kept if one.status == "pending"]
        one = holds[pick % len(holds)]
        freed = self._row(one).status == "cancelled"
        self._expect("HoldEnded" if freed else "done", actions.let_go, booking=self._row(one), now=self.diary.now)
        one.status = "released"

    @rule(minutes=st.sampled_from([1, 5, 20, 90, 600]), tick=st.booleans())
    def time_passes(self, minutes: int, tick: bool) -> None:
        """Pencilled times lapse at a tick; holds are over with or without one."""
        self.diary.now += minutes * MINUTE
        if tick:
            actions.lapse_due(now=self.diary.now)
            actions.end_holds_due(now=self.diary.now)
            self.diary.lapse()

    @rule(
        name=st.sampled_from(WORKING),
        day=st.integers(0, DAYS - 1),
        stretches=st.sampled_from(OTHERS),
        agree=st.booleans(),
    )
    def change_hours(self, name: str, day: int, stretches: list[tuple[time, time]], agree: bool) -> None:
        on = self.first_on + day * DAY
        change = Change(frozenset({on.weekday()}), tuple(stretches), on, on + DAY)
        self._change(
            self.diary.changed(name, on, stretches), agree, change_hours, resource=self.things[name], change=change
        )

    @rule(name=st.sampled_from(["", *WORKING]), quarter=quarters, minutes=st.integers(1, 400), agree=st.booleans())
    def close(self, name: str, quarter: int, minutes: int, agree: bool) -> None:
        start_at = self._moment(quarter)
        times = (start_at, start_at + minutes * MINUTE)
        closure = Closure(kind="training", resource=self.things.get(name), starts_at=times[0], ends_at=times[1])
        if times[1] > self.diary.now:
            self._change(self.diary.shut(name, times), agree, close, site=self.site, closures=[closure])

    @rule(name=names, quarter=quarters)
    def look(self, name: str, quarter: int) -> None:
        """Every opening of a day and a half is one that the list has too."""
        times = (self._moment(quarter), self._moment(quarter) + timedelta(hours=36))
        wanted = Wanted(self.visit_types[name], now=self.diary.now)
        found = find(site=self.site, wanted=wanted, earliest_at=times[0], latest_at=times[1], limit=10**6).found
        expected = worlds.starts(self.diary.world(VISITS[name], times))
        assert [worlds.minute(one.start_at) for one in found] == expected
        self.done["openings compared"] += len(found)

    @invariant()
    def the_database_agrees(self) -> None:
        rows = {one.pk: one for one in Booking.objects.filter(site=self.site)}
        claims: dict[int, list[tuple[str, Times]]] = {}
        for claim in ResourceClaim.objects.filter(active=True).select_related("resource"):
            claims.setdefault(claim.booking_id, []).append((claim.resource.name, (claim.start_at, claim.end_at)))
        assert set(rows) == {one.pk for one in self.diary.kept}
        for one in self.diary.kept:
            row = rows[one.pk]
            # Whoever needs the time of a hold that ran out frees it, and not before.
            unnoticed = one.is_over(self.diary.now) and row.status == "cancelled"
            assert row.status == ("cancelled" if unnoticed or one.status == "released" else one.status)
            assert (row.starts_at, row.ends_at) == one.times
            shown = row.starts_at.astimezone(self.site.zone)
            assert (row.wall_on, row.wall_time, row.zone) == (shown.date(), shown.time(), self.diary.zone)
            assert sorted(claims.get(one.pk, [])) == (sorted(one.claims) if row.status != "cancelled" else [])

    def _pick(self, pick: int) -> Kept:
        one = self.diary.kept[pick % len(self.diary.kept)]
        if one.status == "proposed" and one.is_over(self.diary.now) and self._row(one).status == "cancelled":
            # Its date had come when somebody else needed the time.
            one.status = "cancelled"
        return one

    def _row(self, one: Kept) -> Booking:
        return Booking.objects.select_related("site", "patient", "visit_type").get(pk=one.pk)

    def _moment(self, quarter: int) -> datetime:
        """Counted in quarter hours from the midnight before the day before the night."""
        return instant(when(self.site.timezone, self.first_on, time(0)) + 15 * quarter)

    def _wish(self, name: str, quarter: int, patient: int, *, person: bool = False, **more: Any) -> Any:
        who = self.patients[patient % len(self.patients)]
        whom = self.things["Bo Lindqvist"].pk if person else None
        return actions.BookingRequest(who, self.visit_types[name], self._moment(quarter), person=whom, **more)

    def _expect(self, expected: str, act: Callable[..., Any], **given: Any) -> Any:
        self.done[expected] = self.done.get(expected, 0) + 1
        made, told = None, "done"
        try:
            with transaction.atomic():
                made = act(actor=actor_of(self.cast.desk), **given)
        except Refusal as refusal:
            told = type(refusal).__name__
        assert told == expected, act.__name__
        return made

    def _give(self, give: Callable[..., Booking], status: str, wish: actions.BookingRequest) -> None:
        pieces = VISITS[wish.visit_type.name]
        person = "Bo Lindqvist" if wish.person else ""
        expected = self.diary.place(pieces, wish.start_at, wish.patient.pk, person=person)
        made = self._expect(expected, give, site=self.site, request=wish, now=self.diary.now)
        if made is not None:
            one = Kept(made.pk, wish.patient.pk, pieces, status, (made.starts_at, made.ends_at), [], made.lapses_at)
            self._claimed(one)
            self.diary.kept.append(one)

    def _move(self, one: Kept, start_at: datetime) -> None:
        expected = self.diary.move(one, start_at)
        made = self._expect(expected, actions.move, booking=self._row(one), start_at=start_at, now=self.diary.now)
        if made is not None:
            one.times = (made.starts_at, made.ends_at)
            # What is pencilled never outlasts the beginning of its own time.
            one.lapses_at = one.lapses_at and min(one.lapses_at, made.starts_at)
            assert made.lapses_at == one.lapses_at
            self._claimed(one)

    def _claimed(self, one: Kept) -> None:
        """Whom the program chose is its own affair, as long as they may and are free."""
        rows = ResourceClaim.objects.filter(booking=one.pk, active=True).select_related("resource")
        one.claims = [(claim.resource.name, (claim.start_at, claim.end_at)) for claim in rows]
        world = self.diary.world(one.pieces, one.times, without=one)
        _, claimed = worlds.shape(world)
        who = {claim.need: claim.resource.name for claim in rows}
        assert all(name in worlds.candidates(world, need) for need, name in who.items())
        free = {name: worlds.free_minutes(world, name) for name in set(who.values())}
        assert worlds.fits(claimed, free, worlds.minute(one.times[0]), who)
        held = {
            name: {each for whom, span in one.claims if whom == name for each in worlds.minutes_of(span)}
            for name in free
        }
        start = worlds.minute(one.times[0])
        assert held == {
            name: {
                start + each for need, whom in who.items() if whom == name for part in claimed[need] for each in part
            }
            for name in free
        }

    def _change(self, after: Diary, agree: bool, act: Callable[..., Any], **given: Any) -> None:
        """Refused until somebody has agreed to leave the visits inside where they are."""
        hit = self.diary.hit(after)
        who = {"user": self.cast.manager, "actor": actor_of(self.cast.manager), "now": self.diary.now}
        told: set[int] = set()
        try:
            with transaction.atomic():
                act(agreed=hit if agree else (), **who, **given)
        except VisitsOutside as refusal:
            told = {one.booking.pk for one in refusal.visits}
        assert told == (set() if agree else hit)
        if not told:
            self.done["changed"] += 1
            self.diary = after


def clear_what_was_undone() -> None:
    """Rows of a savepoint that was rolled back stay in the files, and each search reads past them.

    Nobody else clears them while the test's transaction runs: after 8,000 sequences each took four times as long.
    """
    beside = connection.copy()
    try:
        with beside.cursor() as cursor:
            cursor.execute("VACUUM")
    finally:
        beside.close()


def made_up_visits(site: Site) -> dict[str, VisitType]:
    made = {}
    for name, pieces in VISITS.items():
        made[name] = VisitType.objects.create(site=site, code=VisitCode.OTHER, name=name)
        for n, piece in enumerate(pieces):
            segment = Segment.objects.create(visit_type=made[name], position=n, name=f"{n}", minutes=piece.minutes)
            SegmentNeed.objects.bulk_create(SegmentNeed(segment=segment, need=need) for need in piece.needs)
    return made


def live(practice: Cast, sequences: int) -> dict[str, int]:
    """How often what was answered, and how many openings were compared."""
    Resource.objects.exclude(name__in=WORKING).update(active=False)

    class Here(AnyOrder):
        cast = practice
        patients: ClassVar[list[Patient]] = [practice.patient, another_patient(practice), another_patient(practice, 2)]
        visit_types = made_up_visits(practice.fernbrook)
        done: ClassVar[dict[str, int]] = {"sequences": 0, "openings compared": 0, "changed": 0}

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
def test_as_a_plain_list_has_it(practice: Cast, pytestconfig: pytest.Config, note: Callable[..., None]) -> None:
    sequences = 10_000 if pytestconfig.getoption("--soak") else 12
    done = live(practice, sequences)
    note(**done)
    assert done["sequences"] >= sequences
    assert min(done.get(one, 0) for one in ("done", "SlotTaken", "OutsideOpeningHours", "changed")) > 0

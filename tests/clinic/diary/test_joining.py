"""Two records of one person come together in the diary: every visit stays, and nobody is at two at once."""

from datetime import date, datetime, timedelta

import pytest

from clinic.diary import actions
from clinic.diary.actions.inviting import LASTS, invite
from clinic.diary.joining import HereNow, TwoVisitsAtOnce, at_once
from clinic.diary.models import Booking, InvitationEnd, Status, TimeInvitation, VisitCode, WaitingWish, WishEnd
from clinic.diary.refusals import PatientBusy
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.messages.models import DueMessage, State
from clinic.patients.actions import part_patients
from clinic.patients.models import Patient
from clinic.patients.person import JoinedMeanwhile
from clinic.trail.erasure import reveal
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary import house
from tests.clinic.patients.twice import join, second_record
from tests.support import nothing_written

pytestmark = pytest.mark.django_db


@pytest.fixture
def other(cast: Cast) -> Patient:
    house.furnish(cast)
    assert cast.patient.pk
    return second_record(cast)


def waits(
    cast: Cast, patient: Patient, *, code: str = VisitCode.CONSULTATION, since_on: date = house.DAY
) -> WaitingWish:
    details = WishDetails(since_on=since_on)
    visit = WantedVisit(house.visit(code))
    return add_wish(patient=patient, visit=visit, details=details, actor=actor_of(cast.desk), now=NOW)


def asked(cast: Cast, patient: Patient, *, at: datetime = NOW) -> TimeInvitation:
    visit = house.visit()
    visit.patient_may_book = True
    visit.save()
    return invite(patient=patient, visit_type=visit, user=cast.desk, actor=actor_of(cast.desk), now=at)


def test_it_works(cast: Cast, other: Patient) -> None:
    """Past and future, booked, pencilled and cancelled."""
    kinds = [
        house.book(cast, house.at(9), patient=other),
        house.pencil(cast, house.at(11), patient=other),
        house.book(cast, house.at(15), patient=other),
    ]
    actions.cancel(booking=kinds[2], by="patient", reason="", actor=actor_of(cast.desk), now=NOW)
    wish, invitation = waits(cast, other, code=VisitCode.REVIEW), asked(cast, other)
    join(cast, cast.patient, other)
    for row in (*kinds, wish, invitation):
        row.refresh_from_db()
    assert {one.patient_id for one in kinds} | {wish.patient_id, invitation.patient_id} == {cast.patient.pk}
    # What was agreed stands: the times, the claims, the messages.
    assert [one.status for one in kinds] == [Status.BOOKED, Status.PROPOSED, Status.CANCELLED]
    assert kinds[0].claims.filter(active=True).exists()


def test_the_kept_record_is_busy_then(cast: Cast, other: Patient) -> None:
    house.book(cast, house.at(10), patient=other)
    join(cast, cast.patient, other)
    with nothing_written(), pytest.raises(PatientBusy):
        house.book(cast, house.at(10))


@pytest.mark.parametrize(
    ("from_minute", "to_minute", "clash"),
    # The last quarter of an hour is turn-round: the patient has left the chair.
    [
        (-60, 0, False),
        (-60, 15, False),
        (-60, 16, True),
        (0, 10, True),
        (45, 90, False),
        (44, 90, True),
        (60, 90, False),
    ],
)
def test_which_visits_are_at_once(from_minute: int, to_minute: int, clash: bool) -> None:
    one = Booking(starts_at=house.at(10), ends_at=house.at(11))
    starts_at, ends_at = (house.at(10) + timedelta(minutes=number) for number in (from_minute, to_minute))
    other = Booking(starts_at=starts_at, ends_at=ends_at)
    assert (at_once(one, other), at_once(other, one)) == (clash, clash)


def test_nothing_more_is_booked_for_the_alias(cast: Cast, other: Patient) -> None:
    """By a page that was open while the records were joined."""
    join(cast, cast.patient, other)
    for late in (
        lambda: house.book(cast, house.at(10), patient=other),
        lambda: waits(cast, other),
        lambda: asked(cast, other),
    ):
        visit = house.visit()
        visit.patient_may_book = True
        visit.save()
        with nothing_written(), pytest.raises(JoinedMeanwhile):
            late()


class TestRefused:
    @pytest.mark.parametrize(("hour", "minute"), [(10, 0), (10, 15)])
    def test_two_visits_at_once(self, cast: Cast, other: Patient, hour: int, minute: int) -> None:
        house.book(cast, house.at(10))
        house.book(cast, house.at(hour, minute), patient=other)
        with nothing_written(), pytest.raises(TwoVisitsAtOnce) as refused:
            join(cast, cast.patient, other)
        assert "10:00" in str(refused.value)
        assert f"{hour}:{minute:02}" in str(refused.value)

    def test_a_held_time_counts_and_one_that_ran_out_does_not(self, cast: Cast, other: Patient) -> None:
        house.book(cast, house.at(10))
        request = actions.BookingRequest(other, house.visit(), house.at(10))
        actions.hold(site=cast.fernbrook, request=request, actor=actor_of(cast.desk), now=NOW)
        with nothing_written(), pytest.raises(TwoVisitsAtOnce):
            join(cast, cast.patient, other)
        join(cast, cast.patient, other, now=NOW + timedelta(hours=1))

    @pytest.mark.parametrize("status", [Status.ARRIVED, Status.CHECKED_IN])
    def test_somebody_is_here_now(self, cast: Cast, other: Patient, status: Status) -> None:
        booking = house.book(cast, house.at(10), patient=other)
        Booking.objects.filter(pk=booking.pk).update(status=status)
        with nothing_written(), pytest.raises(HereNow):
            join(cast, cast.patient, other, now=house.at(10, 5))


class TestNothingTwice:
    def test_waiting_for_the_same_visit(self, cast: Cast, other: Patient) -> None:
        mine, theirs = waits(cast, cast.patient), waits(cast, other)
        join(cast, cast.patient, other)
        assert [one.pk for one in WaitingWish.objects.waiting()] == [mine.pk]
        theirs.refresh_from_db()
        assert theirs.ended_because == WishEnd.REMOVED

    @pytest.mark.parametrize("kept_waited_longer", [False, True])
    def test_the_longer_wait_holds(self, cast: Cast, other: Patient, kept_waited_longer: bool) -> None:
        long_ago, lately = NOW.date() - timedelta(days=90), NOW.date() - timedelta(days=1)
        days = (long_ago, lately) if kept_waited_longer else (lately, long_ago)
        mine, theirs = waits(cast, cast.patient, since_on=days[0]), waits(cast, other, since_on=days[1])
        join(cast, cast.patient, other)
        held = WaitingWish.objects.waiting().get()
        assert (held.pk, held.since_on) == (mine.pk, long_ago)
        theirs.refresh_from_db()
        assert theirs.since_on == days[1]
        told = TrailEntry.objects.filter(verb="diary.waitlist_changed")
        assert [reveal(entry)["since_on"] for entry in told] == [long_ago.isoformat()][kept_waited_longer:]  # type: ignore[index]

    def test_apart_again_each_has_waited_as_long_as_it_has(self, cast: Cast, other: Patient) -> None:
        long_ago, lately = NOW.date() - timedelta(days=90), NOW.date() - timedelta(days=1)
        mine = waits(cast, cast.patient, since_on=lately)
        theirs = waits(cast, other, since_on=long_ago)
        version = mine.version
        join(cast, cast.patient, other)
        part_patients(alias=other, user=cast.manager, actor=actor_of(cast.manager), now=NOW)
        for wish in (mine, theirs):
            wish.refresh_from_db()
        assert (mine.since_on, mine.patient, mine.version) == (lately, cast.patient, version + 2)
        # What was ended when they were joined stays ended.
        assert (theirs.since_on, theirs.patient, theirs.ended_because) == (long_ago, other, WishEnd.REMOVED)
        entry = TrailEntry.objects.filter(verb="diary.waitlist_changed").order_by("-pk")[0]
        assert reveal(entry)["since_on"] == lately.isoformat()  # type: ignore[index]

    def test_waiting_for_another_visit(self, cast: Cast, other: Patient) -> None:
        waits(cast, cast.patient)
        waits(cast, other, code=VisitCode.REVIEW)
        join(cast, cast.patient, other)
        assert WaitingWish.objects.waiting().filter(patient=cast.patient).count() == 2

    def test_asked_to_pick_the_same_visit(self, cast: Cast, other: Patient) -> None:
        mine, theirs = asked(cast, cast.patient), asked(cast, other)
        join(cast, cast.patient, other)
        assert list(TimeInvitation.objects.open(now=NOW)) == [mine]
        row = DueMessage.objects.get(subject_kind="invitation", subject_id=theirs.pk)
        assert row.state == State.CANCELLED

    def test_one_that_ran_out_does_not_end_the_one_that_stands(self, cast: Cast, other: Patient) -> None:
        ran_out = asked(cast, cast.patient, at=NOW - LASTS - timedelta(days=1))
        stands = asked(cast, other)
        join(cast, cast.patient, other)
        assert list(TimeInvitation.objects.open(now=NOW).filter(patient=cast.patient)) == [stands]
        ran_out.refresh_from_db()
        assert ran_out.ended_because == InvitationEnd.RAN_OUT
        assert DueMessage.objects.get(subject_kind="invitation", subject_id=stands.pk).state != State.CANCELLED

    def test_one_of_the_other_that_ran_out_is_put_away(self, cast: Cast, other: Patient) -> None:
        ran_out = asked(cast, other, at=NOW - LASTS - timedelta(days=1))
        stands = asked(cast, cast.patient)
        join(cast, cast.patient, other)
        assert list(TimeInvitation.objects.open(now=NOW)) == [stands]
        ran_out.refresh_from_db()
        assert ran_out.ended_because == InvitationEnd.RAN_OUT

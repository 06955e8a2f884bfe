"""Giving a time, moving it, fitting it to a changed plan; each refusal leaves everything as it was."""

from datetime import datetime, time, timedelta

import pytest
from django.db import IntegrityError, OperationalError, connection, transaction
from django.test.utils import CaptureQueriesContext

from clinic.accounts.models import Site
from clinic.diary import actions
from clinic.diary.actions.placing import is_conflict
from clinic.diary.locks import lock_resources
from clinic.diary.models import Booking, Need, ResourceClaim, Status, VisitCode, WorkingPattern
from clinic.messages.models import DueMessage
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import DAY, another_patient, at, book, pencil, resource, visit
from tests.support import nothing_written


def claims(booking: Booking) -> list[tuple[str, str, datetime, datetime]]:
    rows = booking.claims.filter(active=True).order_by("resource__name", "start_at")
    return [(row.resource.name, row.segment, row.start_at, row.end_at) for row in rows.select_related("resource")]


def move(cast: Cast, booking: Booking, start_at: datetime, *, now: datetime = NOW) -> Booking:
    return actions.move(booking=booking, start_at=start_at, actor=actor_of(cast.desk), now=now)


def test_it_works(diary: Cast) -> None:
    booking = book(diary, at(9), note="Comes by bus.")
    assert (booking.status, booking.zone, booking.wall_time) == ("booked", "Europe/London", time(9))
    assert (booking.starts_at, booking.ends_at) == (at(9), at(9, 35))
    assert claims(booking) == [
        ("Cleo Haddad", "Talk and examination", at(9), at(9, 30)),
        ("Willow", "Talk and examination", at(9), at(9, 30)),
        ("Willow", "Turn-round", at(9, 30), at(9, 35)),
    ]
    entry = TrailEntry.objects.get(verb="diary.booked")
    assert (entry.subject_id, entry.patient_id, entry.actor_name) == (
        str(booking.pk),
        diary.patient.pk,
        "Dana Popescu",
    )
    assert DueMessage.objects.get().kind == "visit_confirmed"


def test_a_pencilled_time_lapses_by_itself(diary: Cast) -> None:
    booking = pencil(diary, at(9), light_kind="hand_held")
    assert (booking.status, booking.lapses_at) == (Status.PROPOSED, NOW + timedelta(days=1))
    assert (booking.ends_at - booking.starts_at) == timedelta(minutes=140)
    lamp = ResourceClaim.objects.filter(booking=booking, need=Need.LIGHT_HAND_HELD).order_by("start_at")
    assert [(row.segment, row.start_at, row.end_at) for row in lamp] == [
        ("Start and barrier", at(9, 10), at(9, 35)),
        ("Cycle", at(9, 35), at(10, 55)),
    ]
    assert DueMessage.objects.get().kind == "visit_pencilled"


@pytest.mark.parametrize(
    ("start_at", "refusal"),
    [
        (at(9, 5), actions.OutsideOpeningHours),  # on no quarter hour
        (at(9) + timedelta(seconds=1), actions.OutsideOpeningHours),
        (at(8, 45), actions.OutsideOpeningHours),  # before the hours
        (at(16, 30), actions.OutsideOpeningHours),  # would end after them
        (at(10) + timedelta(days=3), actions.OutsideOpeningHours),  # a Saturday
        (NOW - timedelta(minutes=15), actions.InThePast),
        (NOW - timedelta(days=365), actions.InThePast),
    ],
)
def test_a_time_that_was_never_on_offer(diary: Cast, start_at: datetime, refusal: type[Exception]) -> None:
    assert diary.patient.pk
    with nothing_written(), pytest.raises(refusal):
        book(diary, start_at)


def test_a_time_that_somebody_else_has_taken(diary: Cast) -> None:
    for number in range(2):
        book(diary, at(9), patient=another_patient(diary, number))
    assert diary.patient.pk
    with nothing_written(), pytest.raises(actions.SlotTaken) as refusal:
        book(diary, at(9))
    assert str(refusal.value) == "That time has just been taken. Pick one of the next free times."


def test_the_same_time_in_the_other_room_is_another_time(diary: Cast) -> None:
    rooms = [
        book(diary, at(9), patient=another_patient(diary, number)).claims.get(segment="Turn-round").resource.name
        for number in range(2)
    ]
    assert rooms == ["Willow", "Alder"]


@pytest.mark.parametrize("start_at", [at(9), at(9, 15), at(8, 45)])
def test_nobody_sits_in_two_chairs(diary: Cast, start_at: datetime) -> None:
    WorkingPattern.objects.update(from_time=time(8))
    book(diary, at(9))
    with nothing_written(), pytest.raises(actions.PatientBusy) as refusal:
        book(diary, start_at)
    assert "Consultation, 09:00" in str(refusal.value)


def test_turn_round_is_not_the_patients_time(diary: Cast) -> None:
    """The consultation holds its room until 9:35; the patient has left it at 9:30."""
    book(diary, at(9))
    assert pencil(diary, at(9, 30)).starts_at == at(9, 30)


def test_a_cancelled_visit_keeps_nobody(diary: Cast) -> None:
    first = book(diary, at(9))
    actions.cancel(booking=first, by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
    assert book(diary, at(9)).starts_at == at(9)


def test_moving(diary: Cast) -> None:
    booking = book(diary, at(9))
    uid = booking.uid
    moved = move(diary, booking, at(14))
    held = Booking.objects.get(pk=booking.pk)
    assert (held.starts_at, held.wall_time, held.uid) == (at(14), time(14), uid)
    assert (held.sequence, held.version) == (1, 2)
    assert {start for _, _, start, _ in claims(moved)} == {at(14), at(14, 30)}
    assert TrailEntry.objects.filter(verb="diary.moved").count() == 1
    # The old time is free again, for the same room and person.
    book(diary, at(9), patient=another_patient(diary), person=resource("Cleo Haddad").pk)


def test_moving_by_a_quarter_overlaps_only_oneself(diary: Cast) -> None:
    assert move(diary, book(diary, at(9)), at(9, 15)).starts_at == at(9, 15)


def test_moving_to_a_taken_time_leaves_it_where_it_was(diary: Cast) -> None:
    booking = book(diary, at(9))
    for number in range(2):
        book(diary, at(14), patient=another_patient(diary, number))
    with nothing_written(), pytest.raises(actions.SlotTaken):
        move(diary, booking, at(14))
    with nothing_written(), pytest.raises(actions.InThePast):
        move(diary, booking, at(14), now=at(15))


def test_moving_what_somebody_else_has_moved(diary: Cast) -> None:
    booking = book(diary, at(9))
    seen = Booking.objects.get(pk=booking.pk)
    move(diary, booking, at(14))
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        move(diary, seen, at(15))


@pytest.mark.parametrize(
    "status", [Status.ARRIVED, Status.CHECKED_IN, Status.FULFILLED, Status.NOSHOW, Status.ENTERED_IN_ERROR]
)
def test_what_has_begun_or_is_over_stays(diary: Cast, status: Status) -> None:
    booking = book(diary, at(9))
    Booking.objects.filter(pk=booking.pk).update(status=status)
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        move(diary, booking, at(14))
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        actions.refit(booking=booking, cycles=3, light_kind="", actor=actor_of(diary.desk), now=NOW)


def test_fitting_to_the_plan(diary: Cast) -> None:
    booking = pencil(diary, at(9), light_kind="any")
    fitted = actions.refit(booking=booking, cycles=3, light_kind="arch", actor=actor_of(diary.desk), now=NOW)
    assert (fitted.starts_at, fitted.ends_at) == (at(9), at(11))
    assert (fitted.cycles, fitted.light_kind, fitted.status) == (3, "arch", Status.PROPOSED)
    # The end has moved, so an entry in a calendar has too.
    assert (fitted.sequence, fitted.version) == (1, 2)
    assert {row.resource.name for row in fitted.claims.filter(need=Need.LIGHT_ARCH)} == {"Arch 1"}


def test_a_longer_plan_that_does_not_fit_any_more(diary: Cast) -> None:
    booking = pencil(diary, at(9))
    # Both rooms are taken from the minute this visit ends.
    for number in range(2):
        book(diary, at(11, 30), patient=another_patient(diary, number))
    with nothing_written(), pytest.raises(actions.SlotTaken):
        actions.refit(booking=booking, cycles=5, light_kind="", actor=actor_of(diary.desk), now=NOW)


def test_a_failure_halfway_leaves_nothing(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    assert diary.patient.pk

    def fail(*_args: object, **_kwargs: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("clinic.diary.tidings.booked", fail)
    with nothing_written(), pytest.raises(RuntimeError):
        book(diary, at(9))


def test_hours_that_change_until_it_is_their_turn(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    assert diary.patient.pk

    def wait(site: Site) -> None:
        """Somebody else had the lock, and is done: what they wrote goes with the refusal, as it was written here."""
        WorkingPattern.objects.update(until_on=DAY)
        lock_resources(site)

    monkeypatch.setattr("clinic.diary.actions.placing.lock_resources", wait)
    with nothing_written(), pytest.raises(actions.OutsideOpeningHours):
        book(diary, at(9))


def test_how_much_the_whole_action_asks(diary: Cast) -> None:
    """Every question once, and all of them under the lock; three messages are planned, each with its entry."""
    patient, visit_type = diary.patient, visit()
    with CaptureQueriesContext(connection) as asked:
        request = actions.BookingRequest(patient, visit_type, at(9, day=DAY + timedelta(days=28)))
        actions.book(site=diary.fernbrook, request=request, actor=actor_of(diary.desk), now=NOW)
    assert DueMessage.objects.count() == 3
    words = [one["sql"].split()[0] for one in asked if "SAVEPOINT" not in one["sql"]]
    # SQLite locks no resources: its transaction is the only writer.
    locks = 2 if connection.vendor == "postgresql" else 1
    reads = [
        "what ran out",
        "what else ran out",
        "segments",
        "resources",
        "roles",
        "hours",
        "closed",
        "claimed",
        "theirs",
    ]
    assert words == ["SELECT"] * (locks + len(reads)) + ["INSERT"] * (2 + 1 + 3 * 2)


class _Told(Exception):
    def __init__(self, sqlstate: str) -> None:
        super().__init__("told by the database")
        self.sqlstate = sqlstate


@pytest.mark.parametrize(
    ("error", "conflict"),
    [
        # Codes as in Appendix A of PostgreSQL's manual.
        (IntegrityError("exclusion", _Told("23P01")), True),
        (OperationalError("deadlock", _Told("40P01")), True),
        (OperationalError("lock timeout", _Told("55P03")), True),
        (IntegrityError("unique", _Told("23505")), False),
        (IntegrityError("resource_claim_no_overlap"), True),
        (OperationalError("database is locked"), True),
        (OperationalError("disk I/O error"), False),
    ],
)
def test_what_counts_as_somebody_having_been_faster(error: Exception, conflict: bool) -> None:
    if len(error.args) > 1:
        error.__cause__ = error.args[1]
    assert is_conflict(error) is conflict


def test_the_database_has_the_last_word(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Were the look under lock ever wrong, the refusal of the database would still be a sentence."""
    for number in range(2):
        book(diary, at(9), patient=another_patient(diary, number))
    assert diary.patient.pk
    monkeypatch.setattr("clinic.diary.openings.claimed", lambda *_, **__: {})
    with nothing_written(), pytest.raises(actions.SlotTaken):
        book(diary, at(9))


def test_inside_a_transaction_of_the_caller(diary: Cast) -> None:
    """The refusal undoes the booking alone: the caller may go on."""
    for number in range(2):
        book(diary, at(9), patient=another_patient(diary, number))
    with transaction.atomic():
        with pytest.raises(actions.SlotTaken):
            book(diary, at(9))
        assert book(diary, at(10)).starts_at == at(10)


def test_a_problem_visit_beside_a_session(diary: Cast) -> None:
    pencil(diary, at(9))
    other = book(diary, at(9), code=VisitCode.PROBLEM, patient=another_patient(diary))
    assert {row.resource.name for row in other.claims.select_related("resource")} == {"Alder", "Bo Lindqvist"}
    assert visit(VisitCode.PROBLEM).name == "Problem visit"

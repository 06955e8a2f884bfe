"""Usual lengths: learned as sessions close, kept free when somebody looks for a time, and shown with the working."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import User
from clinic.diary import actions as diary
from clinic.diary import usual as asked
from clinic.diary.models import Booking, Resource, VisitCode
from clinic.diary.openings import Wanted, find, visit_shape
from clinic.diary.segments import segments_of
from clinic.diary.shapes import shaped
from clinic.diary.standard import SegmentPlan
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, book, furnish, resource, visit
from tests.clinic.diary.test_visit_setup import send
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.cases.visits import STANDARD_VISITS
from whitening.chairside.actions import close_session
from whitening.chairside.actions.rows import write
from whitening.chairside.models import Session, UsualTime
from whitening.chairside.protocol.choices import Choice
from whitening.chairside.protocol.payloads import Decided, GelOn
from whitening.chairside.protocol.timing import ENOUGH, Measure
from whitening.chairside.timings import learn

pytestmark = pytest.mark.django_db
TREATMENT = VisitCode.TREATMENT


@pytest.fixture
def house(cast: Cast) -> Iterator[Cast]:
    with time_machine.travel(NOW, tick=False):
        furnish(cast)
        yield cast


def closed(cast: Cast, number: int, *, by: User, start: float = 33, cycle: float = 18, finish: float = 12) -> Session:
    """A session of two cycles of some earlier day, as its rows stand."""
    case = chairs.a_case(cast)
    opened_at = NOW - timedelta(days=100 - number)
    first, last = opened_at + timedelta(minutes=start), opened_at + timedelta(minutes=start + 2 * cycle)
    session = Session.objects.create(
        case=case,
        plan=case.plans.first() or chairs.a_plan(cast, case),
        site=cast.fernbrook,
        number=number,
        opened_at=opened_at,
        opened_by=by,
        closed_at=last + timedelta(minutes=finish),
        closed_by=by,
    )
    _log(session, first, GelOn(cycle=1, mix=1))
    _log(session, first + timedelta(minutes=cycle), GelOn(cycle=2, mix=1))
    _log(session, last, Decided(choice=Choice.STOP_HERE))
    return session


def _log(session: Session, happened_at: datetime, payload: GelOn | Decided) -> None:
    write(
        session,
        payloads=[payload],
        client_id=str(uuid4()),
        happened_at=happened_at,
        actor=actor_of(session.opened_by),
        recorded_at=happened_at,
    )


def taught(cast: Cast, *, sessions: int = ENOUGH, **lengths: float) -> None:
    for number in range(1, sessions + 1):
        session = closed(cast, number, by=cast.clinician, **lengths)
    learn(session=session, clinician=cast.clinician, now=NOW)


def minutes(person: Resource | None, cycles: int = 4) -> int:
    return visit_shape(Wanted(visit(TREATMENT), cycles, person=person.pk if person else None)).minutes


def treated(cast: Cast, start_at: datetime, person: Resource | None) -> Booking:
    who = person.pk if person else None
    return book(cast, start_at, code=TREATMENT, cycles=4, light_kind="hand_held", person=who, tell=False)


def test_every_stretch_of_the_usual_visit_is_one_that_is_measured() -> None:
    names = [one.measured_as for plan in STANDARD_VISITS for one in plan.segments if one.measured_as]
    assert names == [measure.value for measure in Measure]
    assert [one.code for one in asked.measures(TREATMENT)] == names
    assert asked.measures(VisitCode.HYGIENE) == []


class TestLearning:
    def test_a_session_that_closes_teaches(self, house: Cast) -> None:
        session = chairs.a_session(house)
        took = chairs.played(house, session)
        close_session(
            session=session,
            client_id=str(uuid4()),
            user=house.clinician,
            actor=actor_of(house.clinician),
            now=chairs.minutes(took + 4),
        )
        rows = UsualTime.objects.order_by("pk").values_list("resource__name", "measure", "within", "sessions")
        # In this test everything is tapped in the minute of the opening, so its start took no time.
        assert list(rows) == [("Cleo Haddad", "cycle", 1, 1), ("Cleo Haddad", "finish", 1, 1)]
        # One is too few to say anything.
        assert minutes(resource("Cleo Haddad")) == 140

    def test_only_of_whom_who_closed_it_and_has_a_place_in_the_diary(self, house: Cast) -> None:
        taught(house, sessions=2)
        assert {row.resource.name for row in UsualTime.objects.all()} == {"Cleo Haddad"}
        before = list(UsualTime.objects.values_list())
        other = closed(house, 9, by=house.hygienist)
        learn(session=other, clinician=house.hygienist, now=NOW)
        assert list(UsualTime.objects.values_list()) == before

    def test_what_is_no_length(self, house: Cast) -> None:
        taught(house, sessions=1)
        for wrong in ({"minutes": 0}, {"within": 2}, {"measure": "turn"}):
            with pytest.raises(IntegrityError), transaction.atomic():
                UsualTime.objects.filter(measure="start").update(**wrong)


class TestLooking:
    def test_ones_own_length(self, house: Cast) -> None:
        """Start 33, cycle 18, finish 12: 35, 18 and 15 are kept free, instead of 25, 20 and 15."""
        cleo, bo = resource("Cleo Haddad"), resource("Bo Lindqvist")
        taught(house, sessions=ENOUGH - 1)
        assert (minutes(cleo), minutes(bo), minutes(None)) == (140, 140, 140)
        learn(session=closed(house, ENOUGH, by=house.clinician), clinician=house.clinician, now=NOW)
        # With anyone the longest of each, and never less than what is set up.
        assert (minutes(cleo), minutes(bo), minutes(None)) == (142, 140, 150)
        assert treated(house, at(9), cleo).ends_at == at(11, 22)
        # What is not a whitening session is as long as before.
        assert visit_shape(Wanted(visit(), person=cleo.pk)).minutes == 35

    def test_whoever_does_no_such_visit_does_not_count(self, house: Cast) -> None:
        taught(house)
        resource("Cleo Haddad").without_visits.add(visit(TREATMENT))
        assert minutes(None) == 140

    def test_what_is_booked_keeps_its_length(self, house: Cast) -> None:
        cleo = resource("Cleo Haddad")
        before = treated(house, at(9), cleo)
        taught(house)
        moved = diary.move(booking=before, start_at=at(12), person=cleo.pk, actor=actor_of(house.desk), now=NOW)
        assert (moved.starts_at, moved.ends_at) == (at(12), at(14, 20))
        names = moved.claims.filter(need="clinician").values_list("segment", "start_at", "end_at")
        assert names[0] == ("Start and barrier", at(12, 10), at(12, 35))
        # Another plan is another length.
        fitted = diary.refit(booking=moved, cycles=3, light_kind="hand_held", actor=actor_of(house.desk), now=NOW)
        assert fitted.ends_at == at(14, 10)

    def test_a_plan_with_longer_cycles_is_booked_longer(self, house: Cast) -> None:
        """30 minutes and 3 besides, for Cleo; the move keeps it, and the working says what is planned."""
        taught(house)
        cleo = resource("Cleo Haddad")
        visit_of: dict[str, Any] = {"cycles": 2, "light_kind": "hand_held", "cycle_minutes": 30, "person": cleo.pk}
        booking = book(house, at(9), code=TREATMENT, tell=False, **visit_of)
        assert booking.ends_at == at(9) + timedelta(minutes=10 + 35 + 2 * 33 + 15 + 10)
        moved = diary.move(booking=booking, start_at=at(13), person=cleo.pk, actor=actor_of(house.desk), now=NOW)
        assert moved.ends_at - moved.starts_at == timedelta(minutes=136)
        _shape, lengths = shaped(Wanted(visit(TREATMENT), 2, person=cleo.pk, cycle_minutes=30))
        words = render_to_string("diary/_lengths.html", {"lengths": lengths})
        assert "Cycle: <strong>33 min</strong>, 20 min at standard for each cycle; the plan says 30 min;" in words

    def test_the_working_is_shown(self, house: Cast) -> None:
        taught(house)
        cleo, kind = resource("Cleo Haddad"), visit(TREATMENT)
        desk = sign_in(house.desk)
        address = reverse("find_time", args=[house.patient.pk])
        says = (
            "Start and barrier: <strong>35 min</strong>, 25 min at standard; 8 of 8 of Cleo Haddad took at most 35 min"
        )
        page = desk.get(address, {"visit_type": kind.pk, "person": cleo.pk}).content.decode()
        assert says in page
        assert "Cycle: <strong>18 min</strong>, 20 min at standard for each cycle; 8 of 8 of Cleo Haddad" in page
        assert "took at most 3 min besides the planned minutes" in page
        assert "the time in which 80 of 100 were done" in page
        page = desk.get(address, {"visit_type": kind.pk}).content.decode()
        assert "With anyone suitable the longest of these is kept free" in page
        assert says in page
        assert "How long it takes, and why" not in desk.get(address, {"visit_type": visit().pk}).content.decode()
        page = sign_in(house.manager).get(reverse("setup_visit", args=[kind.pk])).content.decode()
        assert says in page
        assert "Eight are enough" in page

    def test_too_few_are_said_to_be(self, house: Cast) -> None:
        taught(house, sessions=3)
        page = sign_in(house.manager).get(reverse("setup_visit", args=[visit(TREATMENT).pk])).content.decode()
        assert "Start and barrier: 25 min; 3 of Cleo Haddad are too few to say" in page

    def test_a_search_asks_as_often_however_much_is_known(self, house: Cast) -> None:
        wanted = Wanted(visit(TREATMENT), 4, "hand_held", now=NOW)

        def asks() -> int:
            with CaptureQueriesContext(
                connection,
            ) as asked_now:
                find(site=house.fernbrook, wanted=wanted, earliest_at=at(9), latest_at=at(17), limit=2)
            return len(asked_now)

        before = asks()
        taught(house, sessions=20)
        assert asks() == before

    def test_a_manager_switches_it_off(self, house: Cast) -> None:
        taught(house)
        manager, kind = sign_in(house.manager), visit(TREATMENT)
        with nothing_written():
            page = send(manager, kind, {"3-measured_as": "start"})
        assert (page.status_code, "learn from the same stretch" in page.content.decode()) == (409, True)
        changes = {"1-measured_as": "", "2-measured_as": "", "3-measured_as": ""}
        assert send(manager, kind, changes).status_code == 302
        assert [one.measured_as for one in segments_of(visit(TREATMENT))] == [""] * 5
        assert minutes(None) == 140


class TestWorking:
    """Whose length counts; pure."""

    plan = SegmentPlan("Start", 25, (), "", measured_as="start")

    def known(self, minutes: int, *, enough: bool = True, measure: str = "start") -> asked.Usual:
        return asked.Usual("Cleo Haddad", measure, minutes, 8, 9, enough)

    @pytest.mark.parametrize(
        ("found", "person", "kept"),
        [
            ([], 1, 25),
            ([], None, 25),
            ([(35, True)], 1, 35),
            ([(20, True)], 1, 20),
            ([(20, True)], None, 25),
            ([(35, True), (45, True), (20, True)], None, 45),
            ([(35, False)], 1, 25),
            ([(35, False), (30, True)], None, 30),
        ],
    )
    def test_what_is_kept_free(self, found: list[tuple[int, bool]], person: int | None, kept: int) -> None:
        usual = [self.known(length, enough=enough) for length, enough in found]
        (worked,) = asked.worked_out([self.plan], usual, person=person)
        assert (worked.segment.minutes, worked.set_up, worked.is_learned) == (kept, 25, kept != 25)
        assert len(worked.known) == len(usual)

    @pytest.mark.parametrize(
        ("planned", "besides", "person", "kept"),
        [
            # No plan yet: 15 of the 20 minutes that are set up count as planned.
            (0, None, 1, 20),
            (0, 3, 1, 18),
            (0, 8, 1, 23),
            (0, 3, None, 20),
            # As set up, shorter, longer; nothing learned.
            (15, None, 1, 20),
            (10, None, 1, 20),
            (30, None, 1, 35),
            # Learned: the plan's minutes and what this person needs besides.
            (10, 3, 1, 13),
            (15, 3, 1, 18),
            (30, 3, 1, 33),
            (30, 8, 1, 38),
            # With anyone never less than what is set up, or than the plan and a change-over.
            (10, 3, None, 20),
            (30, 3, None, 35),
            (30, 8, None, 38),
        ],
    )
    def test_a_cycle_lasts_as_its_plan_says(
        self, planned: int, besides: int | None, person: int | None, kept: int
    ) -> None:
        cycle = SegmentPlan("Cycle", 20, (), "", per_cycle=True, measured_as="cycle")
        usual = (
            [] if besides is None else [asked.Usual("Cleo Haddad", "cycle", besides, 8, 9, enough=True, on_top=True)]
        )
        other = SegmentPlan("Start", 25, (), "", measured_as="start")
        worked, start = asked.worked_out([cycle, other], usual, person=person, cycle_minutes=planned)
        assert (worked.segment.minutes, worked.set_up, worked.planned) == (kept, 20, planned)
        assert start.segment.minutes == 25

    def test_another_stretch_says_nothing(self) -> None:
        (worked,) = asked.worked_out([self.plan], [self.known(90, measure="finish")], person=1)
        assert (worked.segment.minutes, worked.known) == (25, ())

"""A patient is late: fewer cycles than agreed shut no gate, and the chair leads through as many as fit."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.models import Status
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from whitening.casebook.facts import ask_of, facts_of_many
from whitening.casebook.gates import evaluate, shut
from whitening.casebook.reading import clinicians
from whitening.chairside import log

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def test_fewer_cycles_than_agreed(cast: Cast, clock: time_machine.Traveller) -> None:
    case = lived.agreed(cast)
    assert case.session is not None
    booking = lived.fresh(case.session)
    agreed, at = booking.cycles, booking.starts_at + timedelta(minutes=25)
    clock.move_to(at)
    diary.begin_late(booking=booking, here_at=at, cycles=agreed - 1, actor=actor_of(cast.desk), now=at)
    lived.here(case, at=at)
    booking = lived.fresh(case.session)
    assert (booking.status, booking.cycles, booking.late_minutes) == (Status.ARRIVED, agreed - 1, 15)
    asked = ask_of(case_id=case.case.pk, booking=booking, booked=clinicians([booking]).get(booking.pk))
    assert shut(evaluate(facts_of_many([asked])[0])) == []
    session = lived.started(case, at=at)
    assert log.plan_of(session, now=at).cycles_planned == agreed - 1
    assert session.plan.cycles_per_session == agreed


class TestTheDesksDay:
    def page(self, client: Client, query: str = "") -> str:
        return client.get(reverse("today") + query).content.decode()

    def test_one_key_per_act_and_one_step_back(self, cast: Cast) -> None:
        case, desk = lived.agreed(cast), sign_in(cast.desk)
        assert case.session is not None
        booking = lived.fresh(case.session)
        before = self.page(desk)
        assert [f'data-row-key="{key}"' in before for key in "alu"] == [True, True, False]
        act = reverse("booking_act", args=[booking.pk, "arrive"])
        answer = desk.post(act, {"back": "start"})
        assert answer.headers["Location"] == f"{reverse('today')}?done={booking.pk}#visit_{booking.pk}"
        after = self.page(desk, f"?done={booking.pk}")
        assert "here for 0 min" in after
        # A link, so that it takes the focus when the address leads there.
        assert f'<a class="list-link" id="visit_{booking.pk}"' in after
        assert 'data-row-key="u"' in after
        assert 'data-row-key="u"' not in self.page(sign_in(cast.assistant), f"?done={booking.pk}")
        desk.post(reverse("booking_act", args=[booking.pk, "take-back"]), {"back": "start"})
        assert lived.fresh(case.session).status == Status.BOOKED

    def test_how_long_somebody_waits(self, cast: Cast, clock: time_machine.Traveller) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        clock.move_to(NOW + timedelta(minutes=12, seconds=40))
        assert "here for 12 min" in self.page(sign_in(cast.desk))

    def test_it_follows_other_desks(self, cast: Cast) -> None:
        case, desk = lived.agreed(cast), sign_in(cast.desk)
        assert case.session is not None
        tag = desk.get(reverse("today")).context["page"].tag
        again = {"If-None-Match": f'"{tag}"', "X-Background": "1"}
        with nothing_written():
            assert desk.get(reverse("today"), headers=again).status_code == 304
        diary.arrive(booking=lived.fresh(case.session), actor=actor_of(cast.assistant), now=NOW)
        assert desk.get(reverse("today"), headers=again).status_code == 200
        tag = desk.get(reverse("today")).context["page"].tag
        diary.ask_about_late(booking=lived.fresh(case.session), here_at=NOW, actor=actor_of(cast.desk), now=NOW)
        assert desk.get(reverse("today"), headers={"If-None-Match": f'"{tag}"'}).status_code == 200

    @pytest.mark.parametrize("done", ["", "?done=x", "?done=99999999999999999999", "?done=4711"])
    def test_an_address_that_names_no_visit(self, cast: Cast, done: str) -> None:
        lived.agreed(cast)
        page = self.page(sign_in(cast.desk), done)
        assert 'data-person="A. N."' in page
        assert 'data-row-key="u"' not in page

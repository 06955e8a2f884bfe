"""Who waits for a session: whoever would be clear to start by then comes first, and a visit joins its case."""

from datetime import timedelta
from typing import Any

import pytest

from clinic.diary import actions
from clinic.diary.models import Booking, FreedTime, Status, VisitCode, VisitType, WaitingOffer, WaitingWish
from clinic.diary.waitlist.answering import accept
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.diary.waitlist.offering import tick
from clinic.diary.waitlist.wording import reasons
from clinic.messages.models import DueMessage
from tests.cast import NOW, Cast, actor_of
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.casebook.actions import wanted_for
from whitening.cases.models import CaseVisit, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def waits(case: Lived, *, days: int, **visit: Any) -> WaitingWish:
    """For a session, since so many days."""
    wanted = wanted_for(case.case, VisitPurpose.SESSION)
    new = WantedVisit(wanted.visit_type, wanted.cycles, wanted.light_kind)
    details = WishDetails(since_on=NOW.date() - timedelta(days=days))
    who = actor_of(case.cast.desk)
    return add_wish(patient=case.case.patient, visit=visit.get("instead", new), details=details, actor=who, now=NOW)


def offers(cast: Cast, *, days: int = 1) -> list[WaitingOffer]:
    """Of so many days on, when everything is free."""
    then = NOW + timedelta(days=days, hours=-1)
    FreedTime.objects.create(site=cast.fernbrook, starts_at=then, ends_at=then + timedelta(hours=2))
    tick(now=NOW)
    return list(WaitingOffer.objects.filter(answer="").select_related("wish__patient", "booking"))


def only_offer(cast: Cast) -> WaitingOffer:
    (offer,) = offers(cast)
    return offer


def a_session(cast: Cast) -> VisitType:
    return VisitType.objects.get(site=cast.fernbrook, code=VisitCode.TREATMENT)


def without_its_time(case: Lived) -> Lived:
    """Everything is agreed, and the session has no time any more."""
    assert case.session is not None
    actions.cancel(booking=fresh(case.session), by="patient", reason="", actor=actor_of(case.cast.desk), now=NOW)
    FreedTime.objects.all().delete()
    return case


def test_whoever_would_be_clear_comes_before_whoever_waits_longer(cast: Cast) -> None:
    ready, asked = without_its_time(lived.agreed(cast)), lived.called(cast, name="Paula Okafor")
    waits(asked, days=9)
    wish = waits(ready, days=2)
    offer = only_offer(cast)
    assert offer.wish == wish
    assert reasons(offer) == [
        "fits: any time",
        "clear to start: consent signed, questions answered",
        "waiting since Sun 1 Mar 2026",
    ]


def test_what_is_missing_is_said_without_a_reason_and_the_visit_joins_its_case(cast: Cast) -> None:
    asked = lived.called(cast)
    waits(asked, days=2)
    offer = only_offer(cast)
    assert not offer.is_clear
    assert offer.clear_words == "not clear to start yet: Health questions, Examination, Plan, Consent"
    booking = accept(offer=offer, actor=actor_of(cast.desk), now=NOW)
    visit = CaseVisit.objects.get(booking=booking)
    assert (visit.case, visit.purpose, visit.session_number) == (asked.case, VisitPurpose.SESSION, 1)
    # Nothing is agreed: like any other session it is only pencilled, and that is what the patient is told.
    assert booking.status == Status.PROPOSED
    assert booking.lapses_at is not None
    assert booking.lapses_at > NOW
    assert [one.kind for one in DueMessage.objects.filter(subject_kind="booking")] == ["visit_pencilled"]


def test_a_session_that_is_agreed_is_booked(cast: Cast) -> None:
    ready = without_its_time(lived.agreed(cast))
    waits(ready, days=2)
    booking = accept(offer=only_offer(cast), actor=actor_of(cast.desk), now=NOW)
    assert (booking.status, booking.lapses_at) == (Status.BOOKED, None)


def test_its_length_comes_from_the_plan_before_anybody_has_confirmed_it(cast: Cast) -> None:
    """As when the desk books it: not from what was wished for before there was a plan."""
    case = lived.with_answers(cast)
    wish = waits(without_its_time(case), days=2, instead=WantedVisit(a_session(cast), 3, "any"))
    lived.examined(case)
    lived.planned(case, minutes_per_cycle=10)
    # The kind of visit reckons with another time of a cycle; without a plan it is that one.
    held = only_offer(cast).booking
    assert (held.cycles, held.light_kind, held.cycle_minutes) == (4, "", 10)
    by_the_desk = lived.book(case, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=2), at=NOW).booking
    assert held.ends_at - held.starts_at == by_the_desk.ends_at - by_the_desk.starts_at
    assert wish.shape == (3, "any")


def test_without_a_plan_it_is_what_was_wished_for(cast: Cast) -> None:
    case = without_its_time(lived.with_answers(cast))
    waits(case, days=2, instead=WantedVisit(a_session(cast), 3, "any"))
    held = only_offer(cast).booking
    assert (held.cycles, held.light_kind, held.cycle_minutes) == (3, "any", 0)


def test_no_more_sessions_than_are_planned(cast: Cast) -> None:
    case = lived.agreed(cast)
    assert case.case.plans.get().sessions == 1
    waits(case, days=2)
    assert offers(cast, days=8) == []
    assert not Booking.objects.filter(status=Status.PENDING).exists()


@pytest.mark.parametrize(("days", "offered"), [(1, False), (6, False), (7, True)])
def test_never_too_soon_after_the_session_before(cast: Cast, days: int, offered: bool) -> None:
    case = lived.with_answers(cast)
    lived.examined(case)
    lived.planned(case, sessions=2)
    lived.signed(case)
    lived.confirmed(case)
    waits(case, days=2)
    assert bool(offers(cast, days=days)) == offered
    assert Booking.objects.filter(status=Status.PENDING).exists() == offered


def test_a_session_of_the_case_moves_up_with_everything_on_it(cast: Cast) -> None:
    case = lived.called(cast)
    case.session = lived.book(case, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=3))
    lived.answer(case)
    lived.examined(case)
    lived.planned(case)
    lived.signed(case)
    lived.confirmed(case)
    waits(case, days=2, instead=fresh(case.session))
    offer = only_offer(cast)
    accept(offer=offer, actor=actor_of(cast.desk), now=NOW)
    visit = CaseVisit.objects.select_related("booking").get(case=case.case)
    assert (visit.booking_id, visit.booking.starts_at) == (case.session.booking_id, offer.starts_at)

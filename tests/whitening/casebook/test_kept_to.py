"""The chair keeps to what the patient agreed to: more only after a changed plan and a new signature."""

import pytest
from django.urls import reverse

from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from tests.whitening.chairside import chairs
from whitening.casebook.going_on import against_going_on
from whitening.chairside import log
from whitening.chairside.models import Session, SessionEvent
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Choice
from whitening.chairside.protocol.codec import to_wire
from whitening.chairside.protocol.marks import Beyond
from whitening.consent.actions import countersign

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock", "quick_paper")]
WHY = "Every agreed cycle is done."
OTHER = "The plan has changed since: this session ends here, the next one follows the new plan"


@pytest.fixture
def case(cast: Cast) -> Lived:
    """In the chair, agreed to four cycles."""
    case = lived.agreed(cast)
    lived.here(case)
    lived.started(case)
    return case


def session() -> Session:
    return Session.objects.select_related("case__site", "plan__product", "opened_by", "booking").get()


def agreed_now() -> int:
    return log.plan_of(session(), now=NOW).cycles_agreed


def against() -> list[str]:
    return [str(words) for words in against_going_on(session(), NOW)]


def done(case: Lived, cycles: int) -> None:
    """So many, one after the other, and asked how sensitive it is."""
    chairs.tapped(case.cast, session(), made.MixStarted(batch=chairs.a_batch(case.cast).pk))
    for number in range(1, cycles + 1):
        taps: list[made.Payload] = [made.GelOn(cycle=number, mix=1), made.GelOff(), made.Sensitivity(score=0)]
        more = [made.Decided(choice=Choice.ONE_MORE)] if number < cycles else []
        chairs.tapped(case.cast, session(), *taps, *more)


def test_one_more_is_agreed_anew_first(case: Lived) -> None:
    nurse, url = sign_in(case.cast.assistant), reverse("chairside", args=[session().pk])
    more = f'value="{to_wire([made.Decided(choice=Choice.ONE_MORE)])}'
    done(case, 4)
    page = nurse.get(url).content.decode()
    assert WHY in page
    assert more not in page
    lived.planned(case, at=NOW, cycles_per_session=5)
    assert (agreed_now(), against()) == (4, ["Not signed for this plan"])
    lived.talked_and_signed(case, at=NOW)
    assert (agreed_now(), against()) == (4, ["Not countersigned"])
    dentist = case.cast.clinician
    countersign(case=case.case, user=dentist, actor=actor_of(dentist), now=NOW)
    assert (agreed_now(), against()) == (5, [])
    page = nurse.get(url).content.decode()
    assert WHY not in page
    assert more in page


def test_what_was_done_all_the_same_stands_in_the_record(case: Lived) -> None:
    """Sent by a screen that did not know: recorded, marked, and marked for good."""
    done(case, 5)
    rows = [row.data["agreed"] for row in SessionEvent.objects.filter(kind="gel_on").order_by("seq")]
    assert rows == [4] * 5
    assert Beyond.NOT_AGREED in [mark.code for mark in log.state_of(session(), now=NOW).past_limit]
    lived.planned(case, at=NOW, cycles_per_session=5)
    lived.signed(case, at=NOW)
    assert agreed_now() == 5
    assert Beyond.NOT_AGREED in [mark.code for mark in log.state_of(session(), now=NOW).past_limit]
    page = sign_in(case.cast.clinician).get(reverse("case", args=[case.case.pk])).content.decode()
    assert "Gel on: both arches, cycle 5, beyond the 4 agreed" in page
    assert "Gel on: both arches, cycle 4<" in page


def test_fewer_are_kept_to_as_well(case: Lived) -> None:
    """Less than was agreed to needs no signature, and the plan is what the dentist wants now."""
    lived.planned(case, at=NOW, cycles_per_session=2)
    assert (agreed_now(), against()) == (2, [])


def test_a_session_is_never_carried_on_under_another_treatment(case: Lived) -> None:
    """Agreed anew or not: what is on the teeth by then is of the plan that it was opened with."""
    lived.planned(case, at=NOW, teeth_left_out=("11",))
    lived.signed(case, at=NOW)
    assert against() == [OTHER]
    lived.planned(case, at=NOW, teeth_left_out=("11",), minutes_per_cycle=10)
    # Less than was agreed to needs no signature, and is another treatment all the same.
    assert against() == [OTHER]
    lived.planned(case, at=NOW)
    assert against() == ["Not signed for this plan"]

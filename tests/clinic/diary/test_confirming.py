"""A pencilled visit is confirmed by whoever knows what must be agreed first, whichever button is pressed."""

from datetime import datetime

import pytest
import time_machine
from django.urls import reverse

from clinic.diary import confirming
from clinic.diary.models import Booking, Status
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, pencil
from tests.support import nothing_written


class NotYet(Refusal):
    sentence = "Something has to be signed first."


def waits(booking: Booking, _actor: Actor, _now: datetime) -> Booking | None:
    if booking.visit_type.code == "treatment":
        raise NotYet
    return None


@time_machine.travel(NOW, tick=False)
def test_another_part_may_say_not_yet(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(confirming, "_confirmers", [waits])
    booking = pencil(diary, at(9))
    client = sign_in(diary.desk)
    with nothing_written():
        page = client.post(reverse("booking_act", kwargs={"pk": booking.pk, "act": "confirm"}))
    assert page.status_code == 409
    assert "Something has to be signed first." in page.content.decode()
    assert Booking.objects.get().status == Status.PROPOSED


def test_a_visit_that_is_nobody_elses_is_confirmed_here(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(confirming, "_confirmers", [waits])
    booking = pencil(diary, at(9), code="consultation", cycles=0)
    assert confirming.confirm(booking=booking, actor=actor_of(diary.desk), now=NOW).status == Status.BOOKED


def test_another_part_may_do_it_itself(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    booking = pencil(diary, at(9))
    monkeypatch.setattr(confirming, "_confirmers", [lambda held, _actor, _now: held])
    assert confirming.confirm(booking=booking, actor=actor_of(diary.desk), now=NOW) is booking
    assert Booking.objects.get().status == Status.PROPOSED

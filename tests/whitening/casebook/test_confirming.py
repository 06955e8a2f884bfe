"""The diary's own button never confirms a session whose consent is not signed for the plan in force."""

import pytest
import time_machine
from django.urls import reverse

from clinic.diary import actions, confirming
from clinic.diary.models import Booking, Status
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, furnish, pencil
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.casebook.actions import NotAgreedYet
from whitening.cases.actions import add_visit
from whitening.cases.models import VisitPurpose


@time_machine.travel(NOW, tick=False)
def test_not_agreed_yet(cast: Cast) -> None:
    furnish(cast)
    case = chairs.a_case(cast)
    booking = pencil(cast, at(9))
    add_visit(case=case, booking=booking, purpose=VisitPurpose.SESSION, actor=actor_of(cast.desk), session_number=1)
    with nothing_written(), pytest.raises(NotAgreedYet):
        confirming.confirm(booking=booking, actor=actor_of(cast.desk), now=NOW)
    client = sign_in(cast.desk)
    with nothing_written():
        page = client.post(reverse("booking_act", kwargs={"pk": booking.pk, "act": "confirm"}))
    assert page.status_code == 409
    assert "The consent is not signed and countersigned" in page.content.decode()


def test_a_visit_of_another_kind_is_the_diarys_own(cast: Cast) -> None:
    furnish(cast)
    case = chairs.a_case(cast)
    booking = pencil(cast, at(9), code="consultation", cycles=0)
    add_visit(case=case, booking=booking, purpose=VisitPurpose.CONSULTATION, actor=actor_of(cast.desk))
    held = Booking.objects.get(pk=booking.pk)
    assert confirming.confirm(booking=held, actor=actor_of(cast.desk), now=NOW).status == Status.BOOKED
    assert actions.lapse_due(now=at(9)) == 0

"""Who may treat is never overridable: a registration or indemnity that has run out shuts the way."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from clinic.accounts.models import User
from clinic.diary.marks import marks_for
from clinic.diary.models import Booking
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.casebook.actions.sessions import start_session
from whitening.cases.models import CaseVisit
from whitening.chairside.actions import GatesShut, OutOfDate
from whitening.chairside.models import Session

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
TODAY = NOW.date()
YESTERDAY = TODAY - timedelta(days=1)
FIELDS = ("registration_expires_on", "indemnity_expires_on")
SENTENCE = "Registration or indemnity of Cleo Haddad has run out"


def runs_out(user: User, field: str, day: date) -> User:
    User.objects.filter(pk=user.pk).update(**{field: day})
    return User.objects.get(pk=user.pk)


def the_session(case: Lived) -> CaseVisit:
    assert case.session is not None
    return CaseVisit.objects.select_related("booking").get(pk=case.session.pk)


def start(case: Lived, user: User) -> Session:
    return start_session(case=case.case, visit=the_session(case), user=user, actor=user.actor, now=NOW)


def ready(cast: Cast) -> Lived:
    case = lived.agreed(cast)
    lived.here(case)
    return case


@pytest.mark.parametrize("field", FIELDS)
def test_the_booked_clinician_shuts_the_gate_for_everybody(cast: Cast, field: str) -> None:
    case = ready(cast)
    runs_out(cast.clinician, field, YESTERDAY)
    for opener in (cast.assistant, cast.hygienist):
        with nothing_written(), pytest.raises(GatesShut, match="Plan"):
            start(case, opener)


@pytest.mark.parametrize("field", FIELDS)
def test_it_covers_its_last_day(cast: Cast, field: str) -> None:
    case = ready(cast)
    clinician = runs_out(cast.clinician, field, TODAY)
    assert start(case, clinician).opened_by == clinician


@pytest.mark.parametrize("field", FIELDS)
def test_whoever_is_out_of_date_opens_nothing(cast: Cast, field: str) -> None:
    case = ready(cast)
    assistant = runs_out(cast.assistant, field, YESTERDAY)
    with nothing_written(), pytest.raises(OutOfDate, match="Your registration or indemnity has run out"):
        start(case, assistant)


def test_the_day_of_the_session_counts(cast: Cast) -> None:
    """Looked at the day before, a cover that ends today already stands in the way of tomorrow's session."""
    case = lived.agreed(cast)
    booking = fresh(the_session(case))
    runs_out(cast.clinician, "indemnity_expires_on", booking.wall_on - timedelta(days=1))
    page = sign_in(cast.assistant).get(reverse("case", args=[case.case.pk])).content.decode()
    assert SENTENCE in page
    runs_out(cast.clinician, "indemnity_expires_on", booking.wall_on)
    page = sign_in(cast.assistant).get(reverse("case", args=[case.case.pk])).content.decode()
    assert SENTENCE not in page


def test_the_diary_says_so_to_the_desk(cast: Cast) -> None:
    case = lived.agreed(cast)
    booking = Booking.objects.get(pk=the_session(case).booking_id)
    assert marks_for([booking], user=cast.desk, now=NOW)[booking.pk].kind == "ready"
    runs_out(cast.clinician, "registration_expires_on", YESTERDAY)
    mark = marks_for([booking], user=cast.desk, now=NOW)[booking.pk]
    assert (mark.kind, [str(line) for line in mark.lines]) == ("missing", [f"Plan: {SENTENCE}"])


def test_the_start_button_answers_with_the_sentence(cast: Cast) -> None:
    case = ready(cast)
    runs_out(cast.assistant, "indemnity_expires_on", YESTERDAY)
    client = sign_in(cast.assistant)
    with nothing_written():
        client.post(reverse("session_start", args=[case.case.pk, the_session(case).pk]))
    page = client.get(reverse("case", args=[case.case.pk])).content.decode()
    assert "Ask a manager to enter the new date under People" in page

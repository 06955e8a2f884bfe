"""A signature that is too old for the day is no consent any more: it is talked through and signed again."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.casebook.actions import confirm_pencilled
from whitening.casebook.actions.visits import AgreedTooLongAgo
from whitening.casebook.booking_marks import marks
from whitening.cases.models import VisitPurpose
from whitening.chairside.actions import GatesShut
from whitening.consent.models import Countersignature, Quote, Signature
from whitening.consent.reading import standing
from whitening.consent.rules import CONSENT_VALID_DAYS, holds_until

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now", "quick_paper")]
# Signed on Monday 2 March; Sunday 31 May is the ninetieth day after it.
LATER = NOW + timedelta(days=91)
SENTENCE = "Signed on Mon 2 Mar 2026, older than 90 days: sign again"


@pytest.fixture
def late(cast: Cast, at_now: time_machine.Traveller) -> Lived:
    """Agreed on Monday; the next session is booked for the ninety-second day after."""
    case = lived.agreed(cast)
    assert case.session is not None
    at_now.move_to(LATER)
    fresh(case.session)
    booking = fresh(case.session)
    type(booking).objects.filter(pk=booking.pk).update(
        starts_at=booking.starts_at + timedelta(days=91),
        ends_at=booking.ends_at + timedelta(days=91),
        wall_on=booking.wall_on + timedelta(days=91),
    )
    return case


def lines(case: Lived) -> list[str]:
    assert case.session is not None
    booking = fresh(case.session)
    return [str(line) for line in marks([booking], case.cast.desk, LATER)[booking.pk].lines]


def test_its_last_day_counts() -> None:
    assert holds_until(lived.MONDAY.date()) == lived.MONDAY.date() + timedelta(days=CONSENT_VALID_DAYS)


def test_the_gate_names_the_day(late: Lived) -> None:
    held = standing(late.case)
    assert held.signed_on is not None
    assert (held.holds_on(held.signed_on + timedelta(days=90)), held.holds_on(held.signed_on + timedelta(days=91))) == (
        True,
        False,
    )
    assert f"Consent: {SENTENCE}" in lines(late)
    page = sign_in(late.cast.desk).get(reverse("case", args=[late.case.pk])).content.decode()
    assert SENTENCE in page


def test_nothing_starts_under_it(late: Lived) -> None:
    with nothing_written(), pytest.raises(GatesShut, match="Consent"):
        lived.started(late, at=LATER)


def test_a_time_beyond_it_is_only_pencilled(cast: Cast) -> None:
    case = lived.agreed(cast)
    assert case.session is not None
    visit = lived.book(case, VisitPurpose.SESSION, earliest_at=LATER, at=NOW)
    assert visit.booking.status == "proposed"
    with nothing_written(), pytest.raises(AgreedTooLongAgo):
        confirm_pencilled(case=case.case, visit=visit, actor=actor_of(cast.desk), now=NOW)


def test_it_is_signed_again_through_the_pages(late: Lived) -> None:
    case, cast = late.case, late.cast
    dentist, where = sign_in(cast.clinician), reverse("consent", args=[case.pk])
    assert late.session is not None
    phone = course.phone_of(cast, fresh(late.session))
    page = dentist.get(where).content.decode()
    assert "Signed on Mon 2 Mar 2026, older than 90 days: it needs a new signature." in page
    # The quote has run out with it: without a talk there is nothing to sign.
    assert "The quote no longer holds." in phone.get("/p/sign/").content.decode()
    answer = dentist.post(
        reverse("consent_talk", args=[case.pk]), {"can_decide": "yes", "interpreter": "none", "included": "As before."}
    )
    assert answer.status_code == 302
    assert Quote.objects.order_by("pk").last().included == "As before."  # type: ignore[union-attr]  # just made
    assert "the patient can sign again now" in dentist.get(where).content.decode()
    course_pen = course.pen(case)
    sent = {
        "seen_sha256": course_pen.seen_sha256,
        "declared": "on",
        "name": "Amara Nwosu",
        "strokes": "[[[100, 200, 0], [160, 80, 110], [220, 210, 230]]]",
        "photo_record": "yes",
        "photo_teaching": "no",
        "photo_publication": "no",
        "photo_public": "no",
    }
    assert phone.post("/p/sign/", sent).status_code == 302
    assert Signature.objects.count() == 2
    with nothing_written(leave_out=("access_entry", "clinic_messages_linkvisit")):
        assert phone.post("/p/sign/", sent).status_code == 200
    assert "Consent: Not countersigned" in lines(late)
    dentist.post(reverse("consent_countersign", args=[case.pk]))
    assert Countersignature.objects.count() == 2
    assert [line for line in lines(late) if line.startswith("Consent")] == []

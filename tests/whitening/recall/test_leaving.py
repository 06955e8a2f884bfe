"""Somebody moved away or died: what is due ends in the transaction that notes it, and not a minute later."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.patients import leaving
from clinic.patients.actions import note_death, note_move
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.recall import afterwards
from whitening.casebook.actions.ending import end_case
from whitening.cases.models import CloseReason
from whitening.chairside.models import Session
from whitening.recall.actions import ticking
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def session(cast: Cast) -> Session:
    return afterwards.a_closed_session(cast)


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


def waiting() -> set[str]:
    return set(DueMessage.objects.open().values_list("kind", flat=True))


def states() -> dict[str, str]:
    return dict(FollowUp.objects.values_list("kind", "state"))


def test_who_moved_away_is_still_asked_how_they_are(cast: Cast, session: Session, desk: Client) -> None:
    before = waiting()
    assert {"aftercare", "two_day_check", "review_invitation", "review_reminder"} <= before
    page = reverse("patient", args=[cast.patient.pk])
    assert desk.post(reverse("patient_moved", args=[cast.patient.pk]))["Location"] == page
    assert before - waiting() == {"review_invitation", "review_reminder"}
    assert states() == {FollowUpKind.TWO_DAY: FollowUpState.WAITING, FollowUpKind.REVIEW: FollowUpState.CANCELLED}
    assert Patient.objects.get(pk=cast.patient.pk).moved_on == NOW.date()
    ended = TrailEntry.objects.get(verb="recall.not_needed")
    assert ended.actor_name == "Dana Popescu"
    assert "Noted as moved away:" in desk.get(page).content.decode()
    # Said again it stays the same note.
    with nothing_written():
        desk.post(reverse("patient_moved", args=[cast.patient.pk]))


def test_after_a_death_nothing_is_left(cast: Cast, session: Session) -> None:
    check = DueMessage.objects.get(kind="two_day_check")
    call = Call.objects.create(
        message=check, site=cast.fernbrook, patient=cast.patient, why=Why.NO_CHANNEL, wanted_at=NOW
    )
    note_death(patient=cast.patient, actor=cast.desk.actor, now=NOW)
    assert waiting() == set()
    assert set(states().values()) == {FollowUpState.CANCELLED}
    call.refresh_from_db()
    assert (call.outcome, call.settled_by) == (Outcome.GONE, "Dana Popescu")
    assert set(DueMessage.objects.filter(state=State.CANCELLED).values_list("reason", flat=True)) == {
        "the patient has died"
    }


def test_who_moved_away_gets_no_late_review(cast: Cast) -> None:
    """One noted before it would have been planned, and one that slipped through: the clock ends it."""
    session = afterwards.a_closed_session(cast)
    Patient.objects.filter(pk=cast.patient.pk).update(moved_on=NOW.date())
    ticking.tick(now=NOW + timedelta(hours=1))
    assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == FollowUpState.CANCELLED
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).state == FollowUpState.WAITING


def test_closing_the_case_as_moved_away_says_so_in_the_register(cast: Cast) -> None:
    case = lived.agreed(cast)
    assert "visit_two_days_before" in waiting()
    end_case(
        case=case.case,
        reason=CloseReason.MOVED_AWAY,
        words="",
        user=cast.clinician,
        actor=cast.clinician.actor,
        now=NOW,
    )
    assert Patient.objects.get(pk=cast.patient.pk).moved_on == NOW.date()
    # They live: that their visit is cancelled they are told.
    assert "visit_cancelled" in waiting()
    assert "visit_two_days_before" not in waiting()


def test_nothing_is_kept_where_one_room_fails(cast: Cast, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_given: object) -> None:
        raise ValueError("a row that nobody expected")

    monkeypatch.setitem(leaving._enders, "recall", broken)
    with nothing_written(), pytest.raises(ValueError, match="nobody expected"):
        note_move(patient=cast.patient, actor=cast.desk.actor, now=NOW)


def test_other_site(cast: Cast) -> None:
    client = sign_in(cast.elsewhere_desk)
    where = reverse("patient_moved", args=[cast.patient.pk])
    with nothing_written():
        assert client.post(where).status_code == 404

"""A death or a move that was noted by mistake: what it had ended is planned anew, by its own dates."""

from datetime import date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.patients import leaving
from clinic.patients.actions import choose_contact, note_death, note_move, take_death_back, take_move_back
from clinic.patients.models import Channel, Patient, Purpose
from clinic.trail.erasure import reveal
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.recall import afterwards
from tests.whitening.recall.afterwards import later
from whitening.casebook.actions.ending import end_case
from whitening.cases.actions import close_case, open_case
from whitening.cases.models import Case, CloseReason
from whitening.chairside.models import Session
from whitening.recall.actions import ticking
from whitening.recall.actions.recalling import plan_recalls
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState, Recall, RecallKind, RecallState

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def session(cast: Cast) -> Session:
    return afterwards.a_closed_session(cast)


def dies(cast: Cast, at: datetime) -> None:
    note_death(patient=cast.patient, actor=cast.desk.actor, now=at)


def lives(cast: Cast, at: datetime) -> list[str]:
    return take_death_back(patient=cast.patient, user=cast.desk, actor=cast.desk.actor, now=at)


def moves(cast: Cast, at: datetime) -> None:
    note_move(patient=cast.patient, actor=cast.desk.actor, now=at)


def is_here(cast: Cast, at: datetime) -> list[str]:
    return take_move_back(patient=cast.patient, user=cast.desk, actor=cast.desk.actor, now=at)


def with_recalls(cast: Cast, session: Session) -> None:
    plan_recalls(case=session.case, check_months=6, actor=cast.clinician.actor, now=NOW)


def course_is_over(cast: Cast, session: Session, at: datetime) -> None:
    close_case(case=session.case, reason=CloseReason.FINISHED, words="", actor=cast.clinician.actor, now=at)


def open_messages() -> dict[str, datetime]:
    return {row.kind: row.due_at for row in DueMessage.objects.open()}


def follow_ups() -> dict[str, tuple[str, datetime]]:
    return {row.kind: (row.state, row.next_at) for row in FollowUp.objects.all()}


def recalls() -> dict[str, tuple[str, datetime]]:
    return {row.kind: (row.state, row.next_at) for row in Recall.objects.all()}


def test_a_slip_changes_nothing_in_the_end(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    before = (open_messages(), follow_ups(), recalls())
    dies(cast, later(hours=1))
    assert open_messages() == {}
    assert {state for state, _next in [*follow_ups().values(), *recalls().values()]} == {"cancelled"}
    assert lives(cast, later(hours=1)) == []
    # The aftercare sheet was due before: it is due now.
    assert open_messages() == before[0] | {"aftercare": later(hours=1)}
    assert (follow_ups(), recalls()) == before[1:]
    verbs = TrailEntry.objects.filter(verb__in=["recall.planned_again", "messages.planned_again"])
    assert {entry.actor_name for entry in verbs} == {"Dana Popescu"}


def test_what_would_be_due_already_is_due_now(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    dies(cast, later(hours=1))
    back_at = later(days=400)
    lives(cast, back_at)
    # Nobody can be asked in writing any more: who was never asked is called, by the next tick.
    assert open_messages() == {}
    assert {state for state, _next in follow_ups().values()} == {FollowUpState.ASKED}
    assert {at for _state, at in [*follow_ups().values(), *recalls().values()]} == {back_at}
    ticking.tick(now=back_at)
    assert {state for state, _next in follow_ups().values()} == {FollowUpState.CALL}
    course_is_over(cast, session, back_at)
    Recall.objects.update(next_at=back_at)
    ticking.tick(now=back_at)
    assert recalls()[RecallKind.CHECK][0] == RecallState.ASKED
    assert [row.due_at for row in DueMessage.objects.filter(kind="check_recall")] == [back_at]


def test_of_two_invitations_that_are_past_one_goes_out(cast: Cast, session: Session) -> None:
    moves(cast, later(hours=1))
    is_here(cast, later(days=30))
    assert {kind for kind in open_messages() if kind.startswith("review")} == {"review_reminder"}
    assert follow_ups()[FollowUpKind.REVIEW][0] == FollowUpState.ASKED


def test_the_move_ended_no_check_and_gives_none_back(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    moves(cast, NOW)
    check = afterwards.follow_up(session, FollowUpKind.TWO_DAY)
    assert check.state == FollowUpState.WAITING
    is_here(cast, NOW)
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).version == check.version
    assert {state for state, _next in recalls().values()} == {RecallState.WAITING}


def test_what_the_clock_had_ended_meanwhile_comes_back_too(cast: Cast, session: Session) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(died_on=NOW.date())
    ticking.tick(now=later(hours=1))
    lives(cast, later(hours=2))
    assert {state for state, _next in follow_ups().values()} == {FollowUpState.WAITING}


def test_while_another_note_stands_its_part_stays_ended(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    dies(cast, NOW)
    moves(cast, NOW)
    lives(cast, NOW)
    assert follow_ups()[FollowUpKind.REVIEW][0] == FollowUpState.CANCELLED
    assert follow_ups()[FollowUpKind.TWO_DAY][0] == FollowUpState.WAITING
    assert {state for state, _next in recalls().values()} == {RecallState.CANCELLED}
    assert "review_invitation" not in open_messages()
    is_here(cast, NOW)
    assert follow_ups()[FollowUpKind.REVIEW][0] == FollowUpState.WAITING
    assert {state for state, _next in recalls().values()} == {RecallState.WAITING}
    assert "review_invitation" in open_messages()


def test_what_had_ended_for_another_reason_stays_ended(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    FollowUp.objects.filter(kind=FollowUpKind.TWO_DAY).update(state=FollowUpState.CANCELLED, closed_at=NOW)
    DueMessage.objects.filter(kind="aftercare").update(state=State.CANCELLED, reason="by the desk", settled_at=NOW)
    dies(cast, NOW)
    lives(cast, NOW)
    assert follow_ups()[FollowUpKind.TWO_DAY][0] == FollowUpState.CANCELLED
    assert "aftercare" not in open_messages()
    # The question is about a check that is over: nobody wants it any more.
    assert "two_day_check" not in open_messages()


def test_a_call_that_was_open_is_open_again(cast: Cast, session: Session) -> None:
    call = afterwards.a_message_call(cast, now=NOW)
    dies(cast, NOW)
    assert Call.objects.get().outcome == Outcome.GONE
    lives(cast, NOW)
    call.refresh_from_db()
    assert (call.settled_at, call.settled_by, call.outcome, call.why) == (None, "", "", Why.NO_CHANNEL)


def test_a_call_about_a_recall_that_was_not_made_is_no_answer(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    Patient.objects.filter(pk=cast.patient.pk).update(channel=Channel.PHONE)
    course_is_over(cast, session, later(days=30))
    due = Recall.objects.get(kind=RecallKind.CHECK).due_at
    ticking.tick(now=due)
    asked = DueMessage.objects.get(kind="check_recall")
    Call.objects.create(site=cast.fernbrook, patient=cast.patient, message=asked, why=Why.PREFERS, wanted_at=due)
    dies(cast, due)
    lives(cast, due)
    ticking.tick(now=due + timedelta(days=29))
    assert Recall.objects.get(kind=RecallKind.CHECK).state == RecallState.ASKED
    assert Call.objects.get(message=asked).settled_at is None


def test_a_choice_made_meanwhile_counts(cast: Cast, session: Session) -> None:
    with_recalls(cast, session)
    dies(cast, NOW)
    choose_contact(
        patient=cast.patient,
        choices={Purpose.RECALL: False},
        wordings={Purpose.RECALL: "No more"},
        actor=cast.desk.actor,
        now=NOW,
    )
    lives(cast, NOW)
    ticking.tick(now=later(days=200))
    assert recalls()[RecallKind.CHECK][0] == RecallState.CANCELLED
    assert not DueMessage.objects.filter(kind="check_recall").exists()


@pytest.mark.parametrize("reason", [CloseReason.DIED, CloseReason.MOVED_AWAY])
def test_the_screen_says_what_a_person_has_to_see_to(cast: Cast, reason: CloseReason) -> None:
    case = lived.agreed(cast)
    assert case.session is not None
    desk = sign_in(cast.desk)
    end_case(case=case.case, reason=reason, words="", user=cast.clinician, actor=cast.clinician.actor, now=NOW)
    name = "patient_died" if reason == CloseReason.DIED else "patient_moved"
    shown = desk.post(reverse(name, args=[cast.patient.pk]), {"back": "1"}, follow=True).content.decode()
    visit = lived.fresh(case.session)
    assert f"not given back: {visit.visit_type.name}" in shown
    assert "is open again, as it was" in shown
    assert visit.status == "cancelled"


@pytest.mark.parametrize("reason", [CloseReason.DIED, CloseReason.MOVED_AWAY])
def test_a_case_that_was_closed_for_it_is_what_it_was_before(cast: Cast, reason: CloseReason) -> None:
    case, by = lived.agreed(cast).case, cast.clinician
    before = (case.version, case.close_reason, case.close_words)
    end_case(case=case, reason=reason, words="So her sister said.", user=by, actor=by.actor, now=NOW)
    back = lives if reason == CloseReason.DIED else is_here
    assert any("is open again" in sentence for sentence in back(cast, NOW))
    case.refresh_from_db()
    assert (case.closed_at, case.closed_by) == (None, "")
    assert (case.version, case.close_reason, case.close_words) == (before[0] + 2, "", "")
    entry = TrailEntry.objects.get(verb="cases.opened_again")
    assert (entry.actor_name, reveal(entry)) == ("Dana Popescu", {"reason": reason, "words": "So her sister said."})


def test_while_the_other_note_stands_its_case_stays_closed(cast: Cast) -> None:
    case, by = lived.agreed(cast).case, cast.clinician
    end_case(case=case, reason=CloseReason.MOVED_AWAY, words="", user=by, actor=by.actor, now=NOW)
    dies(cast, NOW)
    lives(cast, NOW)
    case.refresh_from_db()
    assert case.close_reason == CloseReason.MOVED_AWAY


def test_a_newer_case_is_not_pushed_aside(cast: Cast) -> None:
    """Opened from a page that was open meanwhile."""
    case, by = lived.agreed(cast).case, cast.clinician
    end_case(case=case, reason=CloseReason.MOVED_AWAY, words="", user=by, actor=by.actor, now=NOW)
    newer = open_case(patient=cast.patient, wishes="", expected_cycles=3, user=by, actor=by.actor, now=NOW)
    assert any("a newer one is open" in sentence for sentence in is_here(cast, NOW))
    case.refresh_from_db()
    assert case.close_reason == CloseReason.MOVED_AWAY
    assert Case.objects.open().get() == newer


def test_nothing_is_kept_where_one_room_fails(cast: Cast, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    dies(cast, NOW)

    def broken(*_given: object) -> list[str]:
        raise ValueError("a row that nobody expected")

    monkeypatch.setitem(leaving._restorers, "messages", broken)
    with nothing_written(), pytest.raises(ValueError, match="nobody expected"):
        lives(cast, NOW)


def test_taken_back_twice_is_once(cast: Cast, session: Session) -> None:
    dies(cast, NOW)
    lives(cast, NOW)
    with nothing_written():
        assert lives(cast, NOW) == []


def test_other_site(cast: Cast, session: Session) -> None:
    dies(cast, NOW)
    client = Client()
    sign_in(cast.elsewhere_desk, client)
    with nothing_written():
        assert client.post(reverse("patient_died", args=[cast.patient.pk]), {"back": "1"}).status_code == 404
    assert Patient.objects.get(pk=cast.patient.pk).died_on == date(2026, 3, 3)

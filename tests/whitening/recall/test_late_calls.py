"""A contact that reaches the log after the closing is called about like one that was known by then, and once."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
import time_machine
from django.urls import reverse
from pytest_django import DjangoCaptureOnCommitCallbacks

from clinic.documents import actions as documents
from clinic.documents import archive
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from clinic.messages.models import PrivateLink
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening import course
from tests.whitening.recall import afterwards
from whitening.cases.actions import close_case
from whitening.cases.models import CloseReason
from whitening.chairside.actions import record_event
from whitening.chairside.models import Incident, Session
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Place
from whitening.chairside.protocol.payloads import Payload
from whitening.recall import aftercare
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LIP = made.Contact(place=Place.LIP)


@pytest.fixture
def session(cast: Cast) -> Session:
    """Closed at NOW, after an hour and a half in which nothing was touched as far as anybody wrote down."""
    held = afterwards.a_closed_session(cast)
    Session.objects.filter(pk=held.pk).update(opened_at=NOW - 1.5 * HOUR)
    held.refresh_from_db()
    return held


def told_late(cast: Cast, session: Session, payload: Payload = LIP, *, now: datetime) -> None:
    """Tapped ten minutes before the closing, on a device that finds its network only now."""
    record_event(
        session=session,
        payload=payload,
        client_id=str(uuid4()),
        happened_at=NOW - timedelta(minutes=10),
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=now,
    )


def calls(session: Session) -> list[tuple[str, datetime, datetime]]:
    rows = FollowUp.objects.filter(session=session, kind=FollowUpKind.NEXT_DAY_CALL)
    return [(row.state, row.due_at, row.call_by) for row in rows]


@pytest.mark.parametrize(
    ("now", "due_at", "call_by"),
    [
        (NOW + HOUR, datetime(2026, 3, 4, 10, tzinfo=UTC), datetime(2026, 3, 4, 18, tzinfo=UTC)),
        (NOW + 2 * DAY, NOW + 2 * DAY, datetime(2026, 3, 5, 18, tzinfo=UTC)),
        (NOW + 20 * DAY + 12 * HOUR, NOW + 20 * DAY + 12 * HOUR, NOW + 20 * DAY + 12 * HOUR),
    ],
)
def test_a_contact_told_late_is_called_about_on_the_next_day_or_at_once(
    cast: Cast, session: Session, now: datetime, due_at: datetime, call_by: datetime
) -> None:
    told_late(cast, session, now=now)
    assert calls(session) == [(FollowUpState.CALL, due_at, call_by)]
    assert FollowUp.objects.get(kind=FollowUpKind.NEXT_DAY_CALL).owner == cast.clinician
    entry = TrailEntry.objects.filter(verb="recall.planned").latest("pk")
    assert (entry.actor_name, entry.subject_id) == (cast.assistant.name, str(FollowUp.objects.latest("pk").pk))


def test_once_however_much_comes_late(cast: Cast, session: Session) -> None:
    told_late(cast, session, now=NOW + HOUR)
    planned = TrailEntry.objects.filter(verb="recall.planned").count()
    FollowUp.objects.filter(kind=FollowUpKind.NEXT_DAY_CALL).update(state=FollowUpState.DONE, closed_at=NOW + DAY)
    told_late(cast, session, made.Contact(place=Place.GUM), now=NOW + 2 * DAY)
    assert Incident.objects.count() == 2
    assert [state for state, *_when in calls(session)] == [FollowUpState.DONE]
    assert TrailEntry.objects.filter(verb="recall.planned").count() == planned


def test_what_asks_for_no_call_plans_none(cast: Cast, session: Session) -> None:
    told_late(cast, session, made.Sensitivity(score=2), now=NOW + HOUR)
    assert calls(session) == []


@pytest.mark.parametrize(
    ("reason", "after", "called"),
    [
        (CloseReason.PATIENT_ENDED, 2 * DAY, 1),
        (CloseReason.PATIENT_ENDED, 4 * DAY, 0),
    ],
)
def test_of_a_closed_case_only_until_its_two_day_check_is_over(
    cast: Cast, session: Session, reason: CloseReason, after: timedelta, called: int
) -> None:
    now = NOW + after + 2 * HOUR
    close_case(case=session.case, reason=reason, words="", actor=actor_of(cast.clinician), now=NOW + HOUR)
    told_late(cast, session, now=now)
    assert Incident.objects.count() == 1
    assert len(calls(session)) == called


def test_the_entry_is_not_kept_without_its_call(cast: Cast, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(**_given: object) -> None:
        raise RuntimeError("no call")

    monkeypatch.setattr("whitening.chairside.registries._on_late", [broken])
    with pytest.raises(RuntimeError, match="no call"):
        told_late(cast, session, now=NOW + HOUR)
    assert not Incident.objects.exists()
    assert not session.events.exists()


def test_a_contact_entered_by_mistake_ends_its_call(cast: Cast, session: Session) -> None:
    """Touched the wrong place of the screen and taken back at once, and both came in after the closing."""
    told_late(cast, session, now=NOW + HOUR)
    (contact,) = session.events.all()
    told_late(cast, session, made.Undo(seq=contact.seq), now=NOW + HOUR)
    call = FollowUp.objects.get(kind=FollowUpKind.NEXT_DAY_CALL)
    assert (call.state, call.closed_at) == (FollowUpState.CANCELLED, NOW + HOUR)
    entry = TrailEntry.objects.get(verb="recall.not_needed")
    assert (entry.subject_id, entry.actor_name) == (str(call.pk), cast.assistant.name)
    # A true one that comes in after that asks for the call again.
    told_late(cast, session, made.Contact(place=Place.GUM), now=NOW + 2 * HOUR)
    call.refresh_from_db()
    assert (call.state, call.closed_at) == (FollowUpState.CALL, None)


def test_a_call_that_was_made_stays_made(cast: Cast, session: Session) -> None:
    told_late(cast, session, now=NOW + HOUR)
    FollowUp.objects.filter(kind=FollowUpKind.NEXT_DAY_CALL).update(state=FollowUpState.DONE, closed_at=NOW + DAY)
    (contact,) = session.events.all()
    told_late(cast, session, made.Undo(seq=contact.seq), now=NOW + DAY + HOUR)
    assert [state for state, *_when in calls(session)] == [FollowUpState.DONE]


def test_a_sheet_that_a_late_entry_makes_untrue_is_made_anew(
    cast: Cast, session: Session, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    """Whoever said in the chair that it hurt reads what is for sensitive teeth; the first sheet stays to be read."""
    course.answered(cast, session.case)
    first = aftercare.sheet_of(session, actor=actor_of(cast.clinician), now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        told_late(cast, session, made.Sensitivity(score=0), now=NOW + HOUR / 2)
    assert aftercare.issued(session, now=NOW + HOUR) == first
    with django_capture_on_commit_callbacks(execute=True):
        told_late(cast, session, made.Sensitivity(score=8), now=NOW + HOUR)
    again = aftercare.issued(session, now=NOW + HOUR)
    assert again is not None
    assert (again != first, again.issued_at) == (True, NOW + HOUR)
    assert archive.read(first.sha256) != archive.read(again.sha256)
    # The address on the sheet in the patient's hand stays good.
    assert [link.ended_at for link in PrivateLink.objects.filter(write_only=True)] == [None, None]


def test_a_sheet_that_could_not_be_made_anew_stands_on_the_case_page(
    cast: Cast,
    session: Session,
    monkeypatch: pytest.MonkeyPatch,
    clock: time_machine.Traveller,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    """Until somebody has made it by one press; one that the entry did not make untrue is none."""
    course.answered(cast, session.case)
    aftercare.sheet_of(session, actor=actor_of(cast.clinician), now=NOW)
    told_late(cast, session, made.Sensitivity(score=0), now=NOW + HOUR / 2)
    clock.move_to(NOW + 2 * HOUR)
    desk, page = sign_in(cast.desk), reverse("case", args=[session.case_id])
    asked = "Make the aftercare sheet anew and hand it over"
    assert asked not in desk.get(page).content.decode()

    def failing(**_given: object) -> IssuedDocument:
        raise RenderFailed("busy")

    with monkeypatch.context() as broken, django_capture_on_commit_callbacks(execute=True):
        broken.setattr(documents, "issue", failing)
        told_late(cast, session, made.Sensitivity(score=8), now=NOW + HOUR)
    shown = desk.get(page).content.decode()
    assert (asked in shown, reverse("aftercare_make", args=[session.pk]) in shown) == (True, True)
    made_anew = desk.post(reverse("aftercare_make", args=[session.pk]), follow=True).content.decode()
    assert ("The aftercare sheet is made" in made_anew, asked in made_anew) == (True, False)

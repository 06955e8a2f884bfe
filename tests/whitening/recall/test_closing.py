"""What closing a session causes: follow-ups in its transaction, exactly once, and the sheet right after it."""

from datetime import UTC, datetime
from io import BytesIO

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import DjangoCaptureOnCommitCallbacks

from clinic.documents import actions as documents
from clinic.documents import archive
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from clinic.messages import links, visits
from clinic.messages.models import DueMessage, PrivateLink
from clinic.messages.sweep import sweep
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards
from whitening.chairside.actions import close_session
from whitening.chairside.models import Session
from whitening.recall import closing
from whitening.recall.aftercare import issued, sheet_of
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState

pytestmark = pytest.mark.django_db
TUESDAY_TEN = datetime(2026, 3, 5, 10, 0, tzinfo=UTC)


def closed(cast: Cast, capture: DjangoCaptureOnCommitCallbacks, monkeypatch: pytest.MonkeyPatch) -> Session:
    """Lived from the first tap to the last, and closed by the clinician; the gates are another room's matter."""
    monkeypatch.setattr("whitening.chairside.registries._gate_checks", [])
    session = chairs.a_session(cast, sessions=1)
    minutes = chairs.played(cast, session)
    with capture(execute=True):
        return close_session(
            session=session,
            client_id="5e4c8a1e-8c7e-4a57-9d8a-0a8f6a4f1b11",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=chairs.minutes(minutes),
        )


def planned(session: Session) -> list[tuple[str, str]]:
    return [(row.kind, row.state) for row in FollowUp.objects.filter(session=session).order_by("pk")]


def test_closing_plans_everything_once_and_issues_the_sheet(
    cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = closed(cast, django_capture_on_commit_callbacks, monkeypatch)
    assert planned(session) == [("two_day", "waiting"), ("review", "waiting")]
    assert sorted(DueMessage.objects.values_list("kind", flat=True)) == [
        "aftercare",
        "review_invitation",
        "review_reminder",
        "two_day_check",
    ]
    document = IssuedDocument.objects.get(kind="aftercare")
    assert (document.subject_kind, document.subject_id) == ("session", str(session.pk))
    link = PrivateLink.objects.get()
    assert (link.purpose, link.subject_id, link.write_only, link.ended_at) == ("how_are_you", session.pk, True, None)
    assert TrailEntry.objects.filter(verb="recall.planned").count() == 2
    # The same tap once more, as an unsteady network sends it.
    with django_capture_on_commit_callbacks(execute=True) as again, nothing_written():
        close_session(
            session=session,
            client_id="5e4c8a1e-8c7e-4a57-9d8a-0a8f6a4f1b11",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=chairs.minutes(300),
        )
    assert again == []


def test_nothing_is_planned_when_closing_fails(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    session = chairs.a_session(cast, sessions=1)
    monkeypatch.setattr("whitening.chairside.registries._gate_checks", [])
    minutes = chairs.played(cast, session)

    def broken(**_given: object) -> None:
        raise RuntimeError("the last of the hooks")

    hooks = [closing.after_session, broken]
    monkeypatch.setattr("whitening.chairside.registries._on_closed", hooks)
    with nothing_written(), pytest.raises(RuntimeError, match="the last of the hooks"):
        close_session(
            session=session,
            client_id="5e4c8a1e-8c7e-4a57-9d8a-0a8f6a4f1b11",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=chairs.minutes(minutes),
        )


def test_planned_twice_is_planned_once(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, needs_call=True)
    rows, messages = FollowUp.objects.count(), DueMessage.objects.count()
    afterwards.plan(cast, session, needs_call=True)
    assert (FollowUp.objects.count(), DueMessage.objects.count()) == (rows, messages) == (3, 4)


def test_a_contact_or_an_early_end_adds_a_call_by_a_named_person(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, needs_call=True)
    call = afterwards.follow_up(session, FollowUpKind.NEXT_DAY_CALL)
    assert (call.state, call.owner) == (FollowUpState.CALL, cast.clinician)
    assert (call.due_at, call.call_by) == (
        datetime(2026, 3, 4, 10, 0, tzinfo=UTC),
        datetime(2026, 3, 4, 18, 0, tzinfo=UTC),
    )


def test_the_review_follows_the_last_session_only(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, sessions=2)
    assert planned(session) == [("two_day", "waiting")]


def test_the_check_goes_out_at_ten_and_the_sheet_at_once(cast: Cast) -> None:
    afterwards.a_closed_session(cast)
    sweep(now=NOW)
    assert [sent.subject for sent in mail.outbox] == ["Your page from Fernbrook"]
    sweep(now=datetime(2026, 3, 5, 9, 59, tzinfo=UTC))
    assert len(mail.outbox) == 1
    sweep(now=TUESDAY_TEN)
    assert mail.outbox[-1].subject == "How are you? A question from Fernbrook"
    assert "/p/l/" in str(mail.outbox[-1].body)
    # Nothing is sent twice.
    sweep(now=TUESDAY_TEN)
    assert len(mail.outbox) == 2


def test_the_sheet_says_what_to_do_and_whom_to_call(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast)
    document = sheet_of(session, actor=actor_of(cast.clinician), now=NOW)
    pdf = archive.read(document.sha256)
    text = " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
    for words in (
        "Fernbrook Dental Rooms",
        "Amara Nwosu, born 17 May 1990",
        "Your visit: Tue 3 Mar 2026.",
        "The first 48 hours",
        "Do not smoke or vape until Thu 5 Mar 2026, 09:00.",
        "Call at once",
        "Swelling of face, lips, tongue or throat",
        "999",
        "111",
        "+442079460199",
        "QR code",
    ):
        assert words in text or words == "QR code", words
    link = PrivateLink.objects.get()
    addresses = [
        str(one.get_object()["/A"]["/URI"])
        for page in PdfReader(BytesIO(pdf)).pages
        for one in page.get("/Annots", [])
        if "/A" in one.get_object()
    ]
    assert any("/p/l/" in address for address in addresses)
    assert link.write_only
    assert document.undrawn == ""


@pytest.mark.parametrize("large_print", [False, True])
def test_the_numbers_stand_on_top_of_the_first_page(cast: Cast, large_print: bool) -> None:
    """Whoever is frightened at night reads the first page, from the top."""
    session = afterwards.a_closed_session(cast)
    document = sheet_of(session, actor=actor_of(cast.clinician), now=NOW, is_large=large_print)
    pages = PdfReader(BytesIO(archive.read(document.sha256))).pages
    first = " ".join(pages[0].extract_text().split())
    order = ["Whom to call", "999", "+442079460199", "+44 20 7946 0100", "111", "Call at once"]
    places = [first.find(words) for words in order]
    assert -1 not in places
    assert places == sorted(places)


def test_a_sheet_is_made_once(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast)
    first = sheet_of(session, actor=actor_of(cast.clinician), now=NOW)
    with nothing_written():
        assert sheet_of(session, actor=actor_of(cast.desk), now=afterwards.later(days=1)) == first


def failing(**_given: object) -> IssuedDocument:
    raise RenderFailed("busy")


def test_what_could_not_be_drawn_is_drawn_next_time(
    cast: Cast,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    clock: time_machine.Traveller,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr(documents, "issue", failing)
        session = closed(cast, django_capture_on_commit_callbacks, monkeypatch)
    assert session.closed_at is not None
    clock.move_to(session.closed_at)
    assert issued(session, now=NOW) is None
    assert f"The aftercare sheet of session {session.pk} could not be made yet." in caplog.messages
    answer = sign_in(cast.desk).post(reverse("aftercare_make", args=[session.pk]), follow=True)
    assert "The aftercare sheet is made" in answer.content.decode()
    assert issued(session, now=NOW) is not None
    # Of the two printed links only the newer one opens.
    assert PrivateLink.objects.filter(write_only=True, ended_at=None).count() == 1


def test_without_the_three_numbers_no_link_is_printed(
    cast: Cast,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    cast.fernbrook.poison_number = ""
    cast.fernbrook.save()
    session = closed(cast, django_capture_on_commit_callbacks, monkeypatch)
    assert issued(session, now=NOW) is None
    assert f"The aftercare sheet of session {session.pk} could not be made yet." in caplog.messages
    answer = sign_in(cast.desk).post(reverse("aftercare_make", args=[session.pk]), follow=True)
    assert "No link can go out yet" in answer.content.decode()


def test_a_session_that_is_open_has_no_sheet(cast: Cast) -> None:
    session = chairs.a_session(cast)
    assert sign_in(cast.desk).post(reverse("aftercare_make", args=[session.pk])).status_code == 404


def test_the_patient_opens_the_sheet_after_the_code_only(
    cast: Cast, phone: Client, clock: time_machine.Traveller
) -> None:
    session = afterwards.a_closed_session(cast)
    phone.post(afterwards.address(session))
    phone.post(reverse("private_who"), {"birth_on": "17 5 1990"})
    assert phone.get(reverse("aftercare")).headers["Location"].startswith(reverse("private_code"))


def on_the_tablet(cast: Cast, session: Session, phone: Client) -> Client:
    """Handed over by staff, who vouch for who holds it: no code is asked for."""
    path = afterwards.address(session)
    link = links.by_token(path.strip("/").rsplit("/", 1)[1])
    assert link is not None
    _visit, secret = visits.begin_on_tablet(link=link, staff=actor_of(cast.desk), real_now=NOW)
    phone.cookies[visits.cookie_name()] = secret
    return phone


def test_looking_at_a_sheet_that_is_missing_makes_none(
    cast: Cast, phone: Client, clock: time_machine.Traveller, monkeypatch: pytest.MonkeyPatch
) -> None:
    on_the_tablet(cast, afterwards.a_closed_session(cast), phone)
    with nothing_written():
        answer = phone.get(reverse("aftercare"))
    assert "The sheet is not made yet" in answer.content.decode()
    with monkeypatch.context() as broken:
        broken.setattr(documents, "issue", failing)
        answer = phone.post(reverse("aftercare"))
    assert answer.status_code == 409
    assert "Try again in a moment, or call us" in answer.content.decode()
    assert phone.post(reverse("aftercare")).headers["Content-Type"] == "application/pdf"
    with nothing_written():
        answer = phone.get(reverse("aftercare"))
    assert answer.content.startswith(b"%PDF-")
    assert answer.headers["Cache-Control"] == "no-store"

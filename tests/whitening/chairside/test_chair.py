"""The screen beside the chair, through HTTP."""

from collections.abc import Iterator
from datetime import datetime
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.chairside.actions import close_session
from whitening.chairside.models import IdentityCheck, LightUnit, Session, SessionEvent
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Place
from whitening.chairside.protocol.kinds import BEFORE_GEL, PROTECTION

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _at_the_time() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def url(session: Session, name: str = "chairside") -> str:
    return reverse(name, args=[session.pk])


def tap(client: Client, session: Session, wire: str, **more: object) -> Answer:
    return client.post(url(session, "chairside_event"), {"e": wire, **more}, headers={"X-Tap": "1"})


def test_it_works(cast: Cast) -> None:
    session = chairs.a_session(cast)
    page = sign_in(cast.assistant).get(url(session))
    text = page.content.decode()
    assert page.status_code == 200
    for words in ("Who is here?", "Take the gel off now", "Wipe the screen", "Gum", "Eye", cast.patient.called):
        assert words in text
    assert "<title>Who is here?" in text


@pytest.mark.parametrize("who", ["desk", "manager"])
def test_wrong_role(cast: Cast, who: str) -> None:
    session = chairs.a_session(cast)
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert client.get(url(session)).status_code == 403
        assert client.get(url(session, "chairside_screen")).status_code == 403
        assert client.post(url(session, "chairside_event"), {"e": "3"}).status_code == 403


def test_other_site(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert client.get(url(session)).status_code == 404
        assert client.post(url(session, "chairside_event"), {"e": "3"}).status_code == 404


def test_wrong_method(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    with nothing_written():
        assert client.post(url(session)).status_code == 405
        assert client.get(url(session, "chairside_event")).status_code == 405


def test_a_tap_is_recorded_with_its_own_id_and_time(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    own = str(uuid4())
    page = tap(client, session, "3", id=own, at="2026-03-03T09:00:00+00:00")
    assert page.status_code == 200
    row = SessionEvent.objects.get(session=session)
    assert (row.kind, row.client_id, row.actor_name) == ("stop_signal", f"{own}.0", cast.assistant.name)
    with nothing_written():
        tap(client, session, "3", id=own)


@pytest.mark.parametrize("at", ["", "yesterday", "2026-03-03T09:00:00"])
def test_a_time_that_cannot_be_read_is_now(cast: Cast, at: str) -> None:
    session = chairs.a_session(cast)
    tap(sign_in(cast.assistant), session, "3", at=at)
    assert SessionEvent.objects.get(session=session).happened_at == NOW


def test_without_scripts_it_leads_back_to_the_page(cast: Cast) -> None:
    session = chairs.a_session(cast)
    answer = sign_in(cast.assistant).post(url(session, "chairside_event"), {"e": "3"})
    assert (answer.status_code, answer["Location"]) == (302, url(session))


@pytest.mark.parametrize("wire", ["", "99", "24:11", "1:1:1", "3" * 400])
def test_nonsense_is_refused_with_a_sentence(cast: Cast, wire: str) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    with nothing_written():
        page = tap(client, session, wire)
    assert page.status_code == 422
    assert "message-error" in page.content.decode()


def test_an_undo_of_nothing_is_a_conflict(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    with nothing_written():
        assert tap(client, session, "39:9").status_code == 409
        assert tap(client, session, "39:9", t=str(uuid4())).status_code == 409


def test_a_form_of_people_and_an_undo_by_tap(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    own = str(uuid4())
    tap(client, session, "1", id=own, a=[cast.hygienist.pk, cast.assistant.pk, 1, 2])
    people = chairs.state_at(session).people
    assert people is not None
    assert (people.clinician.name, people.interpreter.value) == (cast.hygienist.name, "by_phone")
    tap(client, session, "39:1", t=own)
    assert chairs.state_at(session).people is None


def test_the_words_of_the_clinician(cast: Cast) -> None:
    session = chairs.a_session(cast)
    assistant = sign_in(cast.assistant)
    with nothing_written():
        refused = tap(assistant, session, "36", words="The suction had to be changed.")
    assert refused.status_code == 409
    assert "explained by a clinician who may treat" in refused.content.decode()
    tap(sign_in(cast.clinician), session, "36", words="The suction had to be changed.")
    assert SessionEvent.objects.get(session=session).data == {"words": "The suction had to be changed."}


def test_closing_by_its_button(cast: Cast) -> None:
    session = chairs.a_session(cast)
    took = chairs.played(cast, session)
    with time_machine.travel(chairs.minutes(took), tick=False):
        wire = f"38:{cast.clinician.pk}"
        assistant = sign_in(cast.assistant)
        assert "sign in as the clinician" in assistant.get(url(session)).content.decode()
        with nothing_written():
            assert assistant.post(url(session, "chairside_event"), {"e": wire}).status_code == 409
        page = tap(sign_in(cast.clinician), session, wire)
    assert page.status_code == 200
    assert "Closed by" in page.content.decode()
    session.refresh_from_db()
    assert session.closed_by == cast.clinician


def test_every_step_renders_in_order(cast: Cast) -> None:
    """No variable is missing from any template on the way (an undefined one raises in tests)."""
    session = chairs.a_session(cast)
    client = sign_in(cast.clinician)
    person = made.Person(id=cast.clinician.pk, name=cast.clinician.name)
    other = made.Person(id=cast.assistant.pk, name=cast.assistant.name)
    chairs.tapped(cast, session, made.People(clinician=person, assistant=other))
    assert client.get(url(session)).status_code == 200
    chairs.tapped(cast, session, chairs.asked(cast))
    clock = 0.0
    while not (state := chairs.state_at(session, clock)).can_close:
        with time_machine.travel(chairs.minutes(clock), tick=False):
            assert client.get(url(session)).status_code == 200
        if state.offers:
            chairs.tapped(cast, session, *state.offers[0].payloads, after=clock)
        else:
            assert state.next_at is not None
            clock = (state.next_at - NOW).total_seconds() / 60


def test_an_emergency_and_a_contact_stand_on_the_screen(cast: Cast) -> None:
    session = chairs.a_session(cast)
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None), made.TakeOffNow(), made.Contact(place=Place.EYE))
    text = sign_in(cast.assistant).get(url(session)).content.decode()
    for words in ("flush at least 15 minutes", "suction", "look at gums and lips", "A contact is not settled"):
        assert words in text


def test_the_lights_own_distance_and_heat_warning_stand_by_its_clock(cast: Cast) -> None:
    session = chairs.a_session(cast)
    LightUnit.objects.update(heat_warning="Gets warm after 40 s.")
    client = sign_in(cast.assistant)
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None))
    assert "Gets warm after 40 s." not in client.get(url(session)).content.decode()
    chairs.tapped(cast, session, made.LightOn())
    text = client.get(url(session)).content.decode()
    assert "5 mm away" in text
    assert "Gets warm after 40 s." in text


def test_a_second_screen_follows(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    first = client.get(url(session, "chairside_screen"))
    headers = {"If-None-Match": first["ETag"], "X-Background": "1"}
    with nothing_written():
        assert client.get(url(session, "chairside_screen"), headers=headers).status_code == 304
    chairs.tapped(cast, session, made.StopSignal())
    assert client.get(url(session, "chairside_screen"), headers=headers).status_code == 200


def test_a_clock_that_runs_out_changes_the_screen_without_an_entry(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None))
    first = client.get(url(session, "chairside_screen"))
    with time_machine.travel(chairs.minutes(15), tick=False):
        again = client.get(url(session, "chairside_screen"), headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 200
    assert "Time is up" in again.content.decode()


def test_what_is_sent_ahead_holds_no_name_and_no_closing(cast: Cast) -> None:
    session = chairs.a_session(cast)
    text = sign_in(cast.assistant).get(url(session)).content.decode()
    assert text.count("<template data-ahead=") >= 6
    assert 'data-after="38' not in text


def test_a_gel_clock_that_starts_without_a_network_knows_its_limit(cast: Cast) -> None:
    """15 minutes, as the product has it: the page sent ahead says when it is over, though no server does."""
    session = chairs.a_session(cast)
    chairs.tapped(cast, session, *(made.Skipped(step=step) for step in BEFORE_GEL if step not in PROTECTION))
    chairs.tapped(cast, session, made.Eyewear(), made.Barrier(pieces=2), made.Cured(seconds_per_area=20))
    people = made.Person(id=cast.clinician.pk, name="C"), made.Person(id=cast.assistant.pk, name="A")
    chairs.tapped(cast, session, made.Inspection(first=people[0], second=people[1]))
    chairs.tapped(cast, session, made.MixStarted(batch=chairs.a_batch(cast).pk))
    text = sign_in(cast.assistant).get(url(session)).content.decode()
    assert 'data-clock-from-tap="900"' in text


def test_a_locked_screen_still_reaches_its_open_session(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    with time_machine.travel(chairs.minutes(10), tick=False):
        assert client.get(reverse("materials")).status_code == 302
        assert client.get(url(session)).status_code == 200


def test_a_locked_screen_does_not_reach_a_closed_one(cast: Cast) -> None:
    session = chairs.a_session(cast)
    took = chairs.played(cast, session)
    at: datetime = chairs.minutes(took)
    close_session(session=session, client_id=str(uuid4()), user=cast.clinician, actor=actor_of(cast.clinician), now=at)
    client = sign_in(cast.assistant)
    with time_machine.travel(chairs.minutes(took + 10), tick=False):
        assert client.get(url(session)).status_code == 302


def test_identity_is_asked_by_one_press(cast: Cast) -> None:
    case = chairs.a_case(cast)
    client = sign_in(cast.assistant)
    where = reverse("case_identity", args=[case.pk])
    answer = client.post(where, {"next": "/today/"})
    assert (answer.status_code, answer["Location"]) == (302, "/today/")
    assert client.post(where, {"next": "https://example.org/"})["Location"] == reverse("case", args=[case.pk])
    assert IdentityCheck.objects.filter(case=case).count() == 2
    desk, elsewhere = sign_in(cast.desk), sign_in(cast.elsewhere)
    with nothing_written():
        assert desk.post(where).status_code == 403
        assert elsewhere.post(where).status_code == 404
        assert client.get(where).status_code == 405

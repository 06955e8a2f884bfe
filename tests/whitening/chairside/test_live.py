"""The version of a chair's screen: nothing is read while nothing was done, and nothing that was done is missed."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.trail.head import head
from clinic.trail.models import TrailEntry
from clinic.trail.record import record
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening.chairside import chairs
from whitening.chairside.actions import hold_batch
from whitening.chairside.live import Version
from whitening.chairside.models import Session
from whitening.chairside.protocol import payloads as made

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def ask(client: Client, session: Session, known: Answer) -> Answer:
    headers = {"If-None-Match": known["ETag"], "X-Background": "1"}
    return client.get(reverse("chairside_screen", args=[session.pk]), headers=headers)


def queries(client: Client, session: Session, known: Answer) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert ask(client, session, known).status_code == 304
    return len(asked)


def test_a_304_costs_one_short_query_more_than_the_door(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    known = client.get(reverse("chairside_screen", args=[session.pk]))
    shortly = queries(client, session, known)
    # Somebody did something elsewhere: looked at closely once, and by its new version shortly again.
    record(
        verb="chairside.light_checked",
        actor=actor_of(cast.assistant),
        subject=("light", 1),
        patient_id=None,
        site_id=session.site_id,
        values={},
    )
    again = ask(client, session, known)
    assert again.status_code == 304
    assert again["ETag"] != known["ETag"]
    assert queries(client, session, known) > shortly + 5
    assert queries(client, session, again) == shortly <= 7


def test_what_is_done_around_the_chair_is_seen(cast: Cast) -> None:
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    chairs.tapped(cast, session, made.MixStarted(batch=chairs.a_batch(cast).pk))
    known = client.get(reverse("chairside_screen", args=[session.pk]))
    nurse = cast.assistant
    hold_batch(batch=chairs.a_batch(cast), why="Recalled.", user=nurse, actor=actor_of(nurse), now=NOW)
    assert ask(client, session, known).status_code == 200


def test_a_clock_is_not_overslept(cast: Cast, clock: time_machine.Traveller) -> None:
    """The end of the light's way along the teeth comes within the minute of the version."""
    session = chairs.a_session(cast)
    client = sign_in(cast.assistant)
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None), made.LightOn())
    known = client.get(reverse("chairside_screen", args=[session.pk]))
    clock.move_to(NOW + timedelta(seconds=9))
    assert ask(client, session, known).status_code == 304
    clock.move_to(NOW + timedelta(seconds=11))
    assert ask(client, session, known).status_code == 200


@pytest.mark.parametrize("etag", ["", '"x"', '"a.1.2"', '"a.1.2.x"', '"a.1.2.²"', f'"a.1.2.{"9" * 30}"', '"a.1.2.3.4"'])
def test_a_version_that_is_none_of_ours_is_answered_with_the_page(cast: Cast, etag: str) -> None:
    assert Version.read(etag) is None
    url = reverse("chairside_screen", args=[chairs.a_session(cast).pk])
    assert sign_in(cast.assistant).get(url, headers={"If-None-Match": etag}).status_code == 200


def test_an_entry_that_comes_in_behind_a_newer_one_counts(cast: Cast) -> None:
    """Numbered first and committed last: the highest number stays, and the version does not."""
    chairs.a_session(cast)
    newest = TrailEntry.objects.order_by("-pk")[0].pk
    before, gap = head(), newest + 5
    late = TrailEntry.objects.order_by("-pk").values().first()
    assert late is not None
    TrailEntry.objects.bulk_create([TrailEntry(**late | {"id": gap, "nonce": "00000000-0000-4000-8000-000000000001"})])
    between = head()
    TrailEntry.objects.bulk_create(
        [TrailEntry(**late | {"id": gap - 1, "nonce": "00000000-0000-4000-8000-000000000002"})]
    )
    assert before < between < head()

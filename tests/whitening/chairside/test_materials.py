"""Batches and lights: pages, actions, and what the gates read from them."""

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import time_machine
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.accounts.rights import NotAllowed
from clinic.diary.models import LightKind, Resource, ResourceKind
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.cases.models import Product
from whitening.chairside import readiness
from whitening.chairside.actions import (
    AlreadyHeld,
    BatchKnown,
    LightDetails,
    NoSuchLight,
    NotHeld,
    Received,
    hold_batch,
    receive_batch,
    release_batch,
    save_light,
)
from whitening.chairside.models import Batch, BatchHold, BatchUse, LightCheck, LightUnit
from whitening.chairside.protocol import payloads as made

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _at_the_time() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def is_there(site: Site, product: Product) -> bool:
    """What the gate asks: gel that may be used on the day of the session."""
    until = readiness.usable_until(site=site, product=product)
    return until is not None and until >= chairs.DAY


def batch_url(batch: Batch, name: str = "batch") -> str:
    return reverse(name, args=[batch.pk])


def test_it_works(cast: Cast) -> None:
    session = chairs.a_session(cast)
    batch = chairs.a_batch(cast)
    chairs.a_batch(cast, number="B-OLD", expires_on=date(2026, 3, 2))
    chairs.tapped(cast, session, made.MixStarted(batch=batch.pk))
    text = sign_in(cast.manager).get(reverse("materials")).content.decode()
    for words in ("B-117", "B-OLD", "Expired", "20 kits", "Light 1"):
        assert words in text
    page = sign_in(cast.assistant).get(batch_url(batch)).content.decode()
    assert cast.patient.name in page
    assert "19 of 20 kits left" in page


def test_wrong_role(cast: Cast) -> None:
    batch = chairs.a_batch(cast)
    desk, assistant = sign_in(cast.desk), sign_in(cast.assistant)
    with nothing_written():
        for name in ("materials", "batch_new"):
            assert desk.get(reverse(name)).status_code == 403
        assert desk.get(batch_url(batch)).status_code == 403
        for name in ("batch_hold", "batch_release", "batch_waste"):
            assert desk.post(batch_url(batch, name), {"why": "x", "quantity": 1}).status_code == 403
        assert assistant.post(batch_url(batch, "batch_release"), {"why": "x"}).status_code == 403


def test_other_site(cast: Cast) -> None:
    batch, unit = chairs.a_batch(cast), chairs.a_light(cast)
    elsewhere = sign_in(cast.elsewhere)
    with nothing_written():
        assert elsewhere.get(batch_url(batch)).status_code == 404
        assert elsewhere.post(batch_url(batch, "batch_hold"), {"why": "x"}).status_code == 404
        assert elsewhere.get(reverse("light_check", args=[unit.resource_id])).status_code == 404
    assert "B-117" not in elsewhere.get(reverse("materials")).content.decode()


def test_wrong_method(cast: Cast) -> None:
    batch = chairs.a_batch(cast)
    client = sign_in(cast.manager)
    with nothing_written():
        assert client.post(reverse("materials")).status_code == 405
        for name in ("batch_hold", "batch_release", "batch_waste"):
            assert client.get(batch_url(batch, name)).status_code == 405


def test_receiving_a_batch(cast: Cast) -> None:
    client, product = sign_in(cast.assistant), chairs.a_gel()
    data = {"product": product.pk, "number": "B-201", "expires_on": "2027-01-31", "quantity": "12", "unit": "kits"}
    assert client.get(reverse("batch_new")).status_code == 200
    answer = client.post(reverse("batch_new"), data)
    batch = Batch.objects.get(number="B-201")
    assert answer["Location"] == batch_url(batch)
    assert (batch.received_on, batch.quantity_received, batch.site) == (chairs.DAY, 12, cast.fernbrook)
    with nothing_written():
        assert client.post(reverse("batch_new"), data).status_code == 409
        assert client.post(reverse("batch_new"), data | {"expires_on": "2026-03-02"}).status_code == 422
        assert client.post(reverse("batch_new"), data | {"quantity": "0"}).status_code == 422


def test_holding_blocks_at_once_and_releasing_gives_back(cast: Cast) -> None:
    batch, product = chairs.a_batch(cast), chairs.a_gel()
    site = cast.fernbrook
    assert is_there(site, product)
    client = sign_in(cast.assistant)
    with nothing_written():
        assert client.post(batch_url(batch, "batch_hold"), {"why": ""}).status_code == 422
    client.post(batch_url(batch, "batch_hold"), {"why": "Recalled by its maker."})
    assert not is_there(site, product)
    assert list(Batch.objects.on_hold()) == [batch]
    with nothing_written():
        assert client.post(batch_url(batch, "batch_hold"), {"why": "Again."}).status_code == 409
    manager = sign_in(cast.manager)
    assert "Recalled by its maker." in manager.get(batch_url(batch)).content.decode()
    assert "Recalled by its maker." not in client.get(reverse("materials")).content.decode()
    with nothing_written():
        assert manager.post(batch_url(batch, "batch_release"), {"why": ""}).status_code == 422
    manager.post(batch_url(batch, "batch_release"), {"why": "The maker has cleared it."})
    assert is_there(site, product)
    hold = BatchHold.objects.get(batch=batch)
    assert (hold.released_by, hold.released_because) == (cast.manager, "The maker has cleared it.")
    with nothing_written():
        assert manager.post(batch_url(batch, "batch_release"), {"why": "Once more."}).status_code == 409


def test_the_refusals_of_the_actions(cast: Cast) -> None:
    batch = chairs.a_batch(cast)
    user, actor = cast.manager, actor_of(cast.manager)
    received = Received(product=batch.product, number="B-117", expires_on=batch.expires_on, quantity=1, unit="kit")
    with nothing_written(), pytest.raises(BatchKnown):
        receive_batch(site=cast.fernbrook, received=received, user=user, actor=actor, now=NOW)
    with nothing_written(), pytest.raises(NotHeld):
        release_batch(batch=batch, because="x", user=user, actor=actor, now=NOW)
    with nothing_written(), pytest.raises(NotAllowed):
        hold_batch(batch=batch, why="x", user=cast.desk, actor=actor_of(cast.desk), now=NOW)
    hold_batch(batch=batch, why="x", user=user, actor=actor, now=NOW)
    with nothing_written(), pytest.raises(AlreadyHeld):
        hold_batch(batch=batch, why="y", user=user, actor=actor, now=NOW)


def test_writing_off(cast: Cast) -> None:
    batch, client = chairs.a_batch(cast), sign_in(cast.assistant)
    with nothing_written():
        assert client.post(batch_url(batch, "batch_waste"), {"quantity": "none"}).status_code == 422
    client.post(batch_url(batch, "batch_waste"), {"quantity": "2"})
    assert BatchUse.objects.get(batch=batch).quantity == 2
    assert "18 of 20 kits left" in client.get(batch_url(batch)).content.decode()


@pytest.mark.parametrize(("expires_on", "ready"), [(date(2026, 3, 2), False), (date(2026, 3, 3), True)])
def test_a_batch_is_usable_up_to_its_last_day(cast: Cast, expires_on: date, ready: bool) -> None:
    batch = chairs.a_batch(cast, expires_on=expires_on)
    assert batch.in_date(chairs.DAY) is ready
    assert is_there(cast.fernbrook, batch.product) is ready


def test_the_batch_that_expires_first_is_offered(cast: Cast) -> None:
    chairs.a_batch(cast)
    sooner = chairs.a_batch(cast, number="B-090", expires_on=date(2026, 6, 30))
    assert readiness.batch_for(site=cast.fernbrook, product=sooner.product, day=chairs.DAY) == sooner


def test_a_light_and_its_check(cast: Cast) -> None:
    resource = Resource.objects.create(
        site=cast.fernbrook, kind=ResourceKind.LIGHT, name="Light 2", light_kind=LightKind.ARCH
    )
    manager, assistant = sign_in(cast.manager), sign_in(cast.assistant)
    where, check = reverse("light", args=[resource.pk]), reverse("light_check", args=[resource.pk])
    assert assistant.get(check).status_code == 404
    data = {"output_least_mw_cm2": 900, "output_most_mw_cm2": 1200, "probe_distance_mm": 8}
    with nothing_written():
        assert assistant.post(where, data).status_code == 403
        assert manager.post(where, data | {"output_most_mw_cm2": 100}).status_code == 422
    assert manager.get(where).status_code == 200
    assert manager.post(where, data)["Location"] == reverse("materials")
    unit = LightUnit.objects.get(resource=resource)
    assert unit.kind == LightKind.ARCH
    assert check in assistant.get(reverse("materials")).content.decode()
    assert f'"{where}"' not in assistant.get(reverse("materials")).content.decode()
    assert f'"{where}"' in manager.get(reverse("materials")).content.decode()
    with nothing_written():
        assert assistant.post(check, {"output_mw_cm2": "bright"}).status_code == 422
    for output, distance in ((1000, 8), (899, 8), (1000, 3)):
        assistant.post(check, {"output_mw_cm2": output, "distance_mm": distance})
    assert [each.passed for each in LightCheck.objects.filter(unit=unit)] == [True, False, False]
    assert assistant.get(check).status_code == 200


def test_a_room_is_no_light(cast: Cast) -> None:
    room = Resource.objects.create(site=cast.fernbrook, kind=ResourceKind.ROOM, name="Willow")
    details = LightDetails(output_least_mw_cm2=1, output_most_mw_cm2=2, probe_distance_mm=1)
    with nothing_written(), pytest.raises(NoSuchLight):
        save_light(resource=room, details=details, user=cast.manager, actor=actor_of(cast.manager))
    manager = sign_in(cast.manager)
    assert manager.get(reverse("light", args=[room.pk])).status_code == 404


@pytest.mark.parametrize(
    ("change", "days", "ready"),
    [
        ({}, 0, True),
        ({}, 30, True),
        ({}, 31, False),
        ({"service_due_on": chairs.DAY}, 0, True),
        ({"service_due_on": chairs.DAY}, 1, False),
        ({"out_of_use_since": chairs.DAY}, 0, False),
    ],
)
def test_when_a_light_is_ready(cast: Cast, change: dict[str, date], days: int, ready: bool) -> None:
    unit = chairs.a_light(cast)
    LightUnit.objects.filter(pk=unit.pk).update(**change)
    day = chairs.DAY + timedelta(days=days)
    assert readiness.curing_light_checked(site=cast.fernbrook, day=day) is ready
    assert not readiness.light_checked(site=cast.fernbrook, kind=LightKind.ARCH, day=day)


def test_a_failed_check_keeps_a_light_away(cast: Cast) -> None:
    chairs.a_light(cast, output=700)
    assert not readiness.curing_light_checked(site=cast.fernbrook, day=chairs.DAY)


def test_what_the_gates_read_of_a_case(cast: Cast) -> None:
    case = chairs.a_case(cast)
    assert (readiness.last_session_on(case), readiness.identity_confirmed_on(case)) == (None, None)
    assert readiness.session_counts(case) == (0, 0)
    chairs.a_session(cast)
    assert readiness.last_session_on(case) == chairs.DAY
    assert readiness.session_counts(case) == (1, 0)

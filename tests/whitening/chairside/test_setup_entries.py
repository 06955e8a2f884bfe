"""What the Set-up list says about gel and lights."""

from datetime import date

import pytest

from clinic.accounts.setup_pages import registered
from clinic.diary.models import LightKind, Resource, ResourceKind
from tests.cast import Cast, actor_of
from tests.whitening.chairside import chairs
from whitening.chairside.actions import hold_batch
from whitening.chairside.models import LightUnit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


def missing(cast: Cast, code: str) -> list[str]:
    page = next(page for page in registered() if page.code == code)
    return [str(sentence) for sentence in page.missing(cast.fernbrook)]


def test_batches(cast: Cast) -> None:
    none = ["No batch of a whitening gel is in date. Until then no session can start."]
    assert missing(cast, "batches") == none
    chairs.a_batch(cast, number="OLD", expires_on=date(2026, 3, 2))
    chairs.a_batch(cast, number="THEIRS", site=cast.alderton)
    assert missing(cast, "batches") == none
    batch = chairs.a_batch(cast)
    assert missing(cast, "batches") == []
    chairs.a_gel("Whitening gel Z")
    assert missing(cast, "batches") == ["No batch of Whitening gel Z is in date."]
    hold_batch(batch=batch, why="A recall", user=cast.assistant, actor=actor_of(cast.assistant), now=chairs.minutes(0))
    assert missing(cast, "batches") == none


def test_lights(cast: Cast) -> None:
    assert missing(cast, "lights") == ["No hand-held light yet. Until then no gum barrier can be cured."]
    unit = chairs.a_light(cast)
    assert missing(cast, "lights") == []
    Resource.objects.create(site=cast.fernbrook, kind=ResourceKind.LIGHT, name="Arch light", light_kind=LightKind.ARCH)
    chairs.a_light(cast, name="Light 2", output=10)
    assert missing(cast, "lights") == [
        "Arch light: its limits are missing, so its output cannot be checked.",
        "Light 2: a light check or its service is due. Until then it is not used.",
    ]
    LightUnit.objects.exclude(pk=unit.pk).update(out_of_use_since=chairs.DAY)
    assert missing(cast, "lights") == ["Arch light: its limits are missing, so its output cannot be checked."]

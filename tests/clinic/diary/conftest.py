"""Everything that knows a model is imported inside: this file is read before Django is set up."""

# ruff: noqa: PLC0415
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cast import Cast


@pytest.fixture
def diary(cast: "Cast") -> "Cast":
    """The cast, in a furnished practice (tests/clinic/diary/house.py)."""
    from tests.clinic.diary.house import furnish

    furnish(cast)
    return cast


@pytest.fixture
def practice(diary: "Cast") -> "Cast":
    """The practice of tests/clinic/diary/worlds.py: one of those who treat may help as well."""
    from clinic.accounts.models import Membership, Role, User

    helper = User.objects.get(name="Bo Lindqvist")
    Membership.objects.create(user=helper, site=diary.fernbrook, role=Role.ASSISTANT)
    assert diary.patient.pk
    return diary

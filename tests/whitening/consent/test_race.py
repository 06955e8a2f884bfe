"""Two devices sign the same plan at the same moment: one signature, the other a clear sentence."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.apart import Home, a_home


@pytest.fixture
def home(vendor: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    yield from a_home("tests.whitening.consent.racing", vendor, tmp_path, request)


def test_two_devices_one_signature(home: Home) -> None:
    found = home.run()
    assert sorted(found.pop("said")) == ["This is signed already. You need not do it again.", "signed"]
    assert found == {"signatures": 1, "choices": 4}

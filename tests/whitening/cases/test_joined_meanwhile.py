"""A case that is given to the kept record while somebody waits for it is found, and is that record's."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import postgres
from tests.apart import Home, a_home

pytestmark = pytest.mark.timeout(300)


@pytest.fixture
def home(vendor: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    yield from a_home("tests.whitening.cases.meeting", vendor, tmp_path, request)


def test_it_is_the_kept_records_by_then(home: Home, request: pytest.FixtureRequest) -> None:
    if home.vendor == "sqlite":
        pytest.skip("SQLite has one lock for all: whoever writes waits for the one before")
    cluster: postgres.Cluster = request.getfixturevalue("postgres_cluster")
    found = home.run(cluster.home, home.name)
    assert (found["held"], found["is_read_with_it"]) == (found["kept"], True)

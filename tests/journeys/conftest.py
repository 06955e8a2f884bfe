from collections.abc import Iterator

import pytest

from tests import world


@pytest.fixture(params=world.KINDS)
def furnished_world(request: pytest.FixtureRequest) -> Iterator[world.World]:
    """Real processes around the furnished practice: with PostgreSQL and Redis, and on the embedded default."""
    cluster = request.getfixturevalue("postgres_cluster") if request.param == "server" else None
    with world.start(request.param, cluster=cluster, seed="tests.journeys.house") as running:
        yield running

from collections.abc import Iterator

import pytest

from tests import world


@pytest.fixture
def furnished_world(request: pytest.FixtureRequest) -> Iterator[world.World]:
    """Real processes around the furnished practice, of the kind that the test asks for."""
    cluster = request.getfixturevalue("postgres_cluster") if request.param == "server" else None
    with world.start(request.param, cluster=cluster, seed="tests.journeys.house") as running:
        yield running

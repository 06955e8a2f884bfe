"""The trail on its own: a few verbs of these tests, and fresh folders for each."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from pytest_django.fixtures import Settings

from clinic.trail import verbs
from tests import postgres

SENTENCES = {"tests.noted": "noted something", "tests.noted_twice": "noted something again"}


@pytest.fixture(autouse=True)
def _verbs() -> None:
    verbs.register(SENTENCES)


@pytest.fixture(autouse=True)
def folders(tmp_path: Path, settings: Settings) -> Path:
    """Keys, heads and spool of this test alone."""
    for name in ("KEYS_DIR", "TRAIL_ANCHOR_DIR", "VAR_DIR", "FILES_DIR", "BACKUP_DIR"):
        folder = tmp_path / name.lower()
        folder.mkdir()
        setattr(settings, name, folder)
    return tmp_path


@pytest.fixture(scope="module")
def module_cluster() -> Iterator[postgres.Cluster]:
    """For installations that several tests of one file share."""
    cluster = postgres.start()
    try:
        yield cluster
    finally:
        cluster.stop()

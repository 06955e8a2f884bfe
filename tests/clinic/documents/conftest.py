"""Sheets need the fonts that an installation makes once, and renderers that end with their test."""

import fcntl
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from clinic.documents import bundled, fonts
from clinic.documents.client import RendererPool
from clinic.documents.limits import Limits


@pytest.fixture(scope="session", autouse=True)
def _fonts() -> None:
    if not bundled.missing_files():
        return
    # Several workers begin at once; one makes them, the others wait.
    with (Path(tempfile.gettempdir()) / "casebook-fonts.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        fonts.build(bundled.FONTS_DIR)


@pytest.fixture
def pool_with() -> Iterator[Callable[..., RendererPool]]:
    """Makes renderers with their own limits and ends them."""
    pools: list[RendererPool] = []

    def make(**limits: float) -> RendererPool:
        pools.append(RendererPool(Limits(**limits)))  # type: ignore[arg-type]  # whole numbers where they must be
        return pools[-1]

    yield make
    for pool in pools:
        pool.close()

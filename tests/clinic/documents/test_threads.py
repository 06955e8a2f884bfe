"""Several callers of one process share its renderer, one after the other."""

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest

from clinic.documents.client import RendererPool
from clinic.documents.failures import RenderFailed
from tests.clinic.documents.drawing_jobs import job, text_of

Pools = Callable[..., RendererPool]


def test_each_caller_gets_its_own_sheet(pool_with: Pools) -> None:
    pool = pool_with()

    def draw(number: int) -> str:
        return text_of(pool.draw(job(f"<h1>Sheet {number}</h1>")).pdf)

    with ThreadPoolExecutor(max_workers=4) as callers:
        drawn = list(callers.map(draw, range(24)))
    assert drawn == [f"Sheet {number}" for number in range(24)]


def test_who_waits_too_long_is_told(pool_with: Pools) -> None:
    pool = pool_with(wall_s=0.3)
    with pool._lock:
        began = time.monotonic()
        with pytest.raises(RenderFailed, match="busy"):
            pool.draw(job("<h1>One</h1>"))
    assert 0.25 < time.monotonic() - began < 5

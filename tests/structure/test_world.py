"""The program comes up as real processes, recovers from a fallen one, and shows pages that break no policy."""

import os
import signal
import time

import pytest

from tests.browser import Watched, axe
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(240)]


def test_it_comes_up_and_knows_nobody(real_world: World) -> None:
    assert real_world.status("/health/") == 200
    assert real_world.status("/sign-in/") == 200
    assert real_world.status("/no-such-page/") == 404


def test_the_front_desk_signs_in(real_world: World, watched_browser: Watched) -> None:
    page = watched_browser.open(real_world.address)
    page.goto("/")
    axe(page)
    page.get_by_label("E-mail").fill("dana@example.org")
    page.get_by_label("Password").fill("a long walk by the canal")
    page.locator("main form button[type=submit]").click()
    page.wait_for_url(real_world.address + "/")
    axe(page)


@pytest.mark.parametrize("real_world", ["server"], indirect=True)
@pytest.mark.parametrize("name", ["redis", "worker", "beat", "web"])
def test_a_killed_process_comes_back(real_world: World, name: str) -> None:
    child = real_world.child(name)
    before = child.process
    assert before is not None
    os.killpg(before.pid, signal.SIGKILL)
    deadline = time.monotonic() + 30
    while child.process is before or real_world.status("/health/") != 200:
        assert time.monotonic() < deadline, real_world.logs()
        time.sleep(0.2)
    assert child.restarts == 1


def test_it_keeps_a_sealed_trail(real_world: World) -> None:
    real_world.manage("trail_verify")

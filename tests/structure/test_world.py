"""The program comes up as real processes, recovers from fallen ones, and shows pages that break no policy."""

import os
import signal
import time

import pytest

from tests.browser import Watched, axe
from tests.cast import PASSWORD
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]


def test_it_comes_up_and_the_front_desk_signs_in(real_world: World, watched_browser: Watched) -> None:
    assert real_world.status("/health/") == 200
    assert real_world.status("/no-such-page/") == 404
    page = watched_browser.open(real_world.address)
    page.goto("/sign-in/")
    axe(page)
    page.locator("input[name=login]").fill("dana@example.org")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{real_world.address}/")
    axe(page)
    real_world.manage("trail_verify")


@pytest.mark.parametrize("real_world", ["server"], indirect=True)
def test_killed_processes_come_back(real_world: World) -> None:
    for name in ("redis", "worker", "beat", "web"):
        child = real_world.child(name)
        before = child.process
        assert before is not None
        os.killpg(before.pid, signal.SIGKILL)
        deadline = time.monotonic() + 60
        while child.process is before or real_world.status("/health/") != 200:
            assert time.monotonic() < deadline, f"{name} stayed away\n{real_world.logs()}"
            time.sleep(0.2)
        assert child.restarts == 1

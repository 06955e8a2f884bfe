"""The program comes up as real processes, recovers from fallen ones, and shows pages that break no policy."""

import os
import signal
import time

import pytest

from scripts.chaos.storm import children_of
from tests import postgres
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


@pytest.mark.parametrize("real_world", ["embedded"], indirect=True)
def test_a_worker_whose_processes_were_killed_is_started_anew(real_world: World) -> None:
    """The one of them that waits for a task takes the lock of their queue along: the others would wait forever."""
    worker = real_world.child("worker")
    before = worker.process
    assert before is not None
    for pid in children_of(worker, b"celery"):
        os.kill(pid, signal.SIGKILL)
    deadline = time.monotonic() + 60
    while worker.process is before or real_world.status("/health/") != 200:
        assert time.monotonic() < deadline, f"the worker stayed as it was\n{real_world.logs()}"
        time.sleep(0.2)
    last = beats(real_world)
    while not beats(real_world) > last:
        assert time.monotonic() < deadline, f"nothing is done any more\n{real_world.logs()}"
        time.sleep(0.5)


def beats(world: World) -> str:
    """When the worker last swept, in a form that can be compared."""
    found = "from clinic.messages.models import Heartbeat; beat = Heartbeat.objects.get(name='messages.sweep')"
    return world.manage("shell", "--no-imports", "-c", f"{found}; print(beat.beat_at.isoformat())").strip()


def wait_for(world: World, *, path: str, status: int) -> None:
    deadline = time.monotonic() + 60
    while (found := world.status(path)) != status:
        assert time.monotonic() < deadline, f"{path} still answers {found}\n{world.logs()}"
        time.sleep(0.2)


@pytest.mark.parametrize("real_world", ["server"], indirect=True)
def test_a_database_that_is_away_is_waited_for(real_world: World, postgres_cluster: postgres.Cluster) -> None:
    """As while it restarts: every connection is cut and none is taken. Nobody has to be started again."""
    name = real_world.env["CASEBOOK_DATABASE_URL"].rpartition("/")[2]
    cut = (
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity JOIN pg_database USING (datname)"
        " WHERE NOT datallowconn AND datname LIKE 'world%'"
    )
    postgres_cluster.run_sql(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS false')
    postgres_cluster.run_sql(cut)
    wait_for(real_world, path="/health/", status=503)
    assert real_world.status("/sign-in/") == 503
    # Long enough for a few ticks to fail.
    time.sleep(3)
    postgres_cluster.run_sql(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS true')
    wait_for(real_world, path="/sign-in/", status=200)
    wait_for(real_world, path="/health/", status=200)
    assert [child.restarts for child in real_world.supervisor.children] == [0, 0, 0, 0]


@pytest.mark.parametrize("real_world", ["server"], indirect=True)
def test_a_redis_that_hangs_is_told_and_waited_for(real_world: World) -> None:
    """It takes the call and says nothing: without a limit each sign-in would hold a web worker until it is ended."""
    redis = real_world.child("redis")
    redis.send(signal.SIGSTOP)
    try:
        began = time.monotonic()
        assert real_world.status("/health/") == 503
        assert time.monotonic() - began < 9
        # Nothing but the sign-in needs it.
        assert real_world.status("/sign-in/") == 200
    finally:
        redis.send(signal.SIGCONT)
    wait_for(real_world, path="/health/", status=200)
    assert [child.restarts for child in real_world.supervisor.children] == [0, 0, 0, 0]

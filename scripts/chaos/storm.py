"""The storm itself: who is killed when, what becomes of Redis in the middle, and the calm afterwards."""

import contextlib
import os
import random
import signal
import socket
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from scripts.chaos.size import Size
from scripts.chaos.world import WORKERS, World
from scripts.supervisor import Child

Deed = Literal[
    "worker one", "worker two", "sweeping process", "beat", "web", "web process", "redis", "postgres", "one connection"
]
# How often each is hit. Some of a program's own children are hit alone: their parents start them again, at once.
# "one connection" is the server process behind one: PostgreSQL then restarts all of itself.
ODDS: dict[Deed, int] = {
    "worker one": 12,
    "worker two": 12,
    "sweeping process": 24,
    "beat": 12,
    "web": 6,
    "web process": 12,
    "redis": 10,
    "postgres": 4,
    "one connection": 8,
}
SERVERS: frozenset[Deed] = frozenset({"redis", "postgres", "one connection"})
# Whose children these are, and what stands in their command lines.
CHILDREN: dict[Deed, tuple[Sequence[str], bytes]] = {
    "sweeping process": (WORKERS, b""),
    "web process": (("web",), b""),
    "one connection": (("postgres",), b"casebook"),
}
# Without a message less to send. How fast they go out is the machine's affair.
STUCK_SECONDS = 120


@dataclass(kw_only=True)
class Log:
    kills: Counter[str] = field(default_factory=Counter)
    flushes: int = 0
    health: Counter[int] = field(default_factory=Counter)
    calm_seconds: float = 0.0


def odds(size: Size) -> dict[Deed, int]:
    return {deed: weight for deed, weight in ODDS.items() if size.engine == "postgres" or deed not in SERVERS}


def times(size: Size, dice: random.Random) -> list[tuple[float, Deed]]:
    """When whom, in seconds from the start: as many as the size asks for, at random moments."""
    weights = odds(size)
    moments = sorted(dice.uniform(0, size.seconds) for _ in range(size.kills))
    chosen = dice.choices(list(weights), weights=list(weights.values()), k=size.kills)
    return list(zip(moments, chosen, strict=True))


def rage(world: World, *, seed: int) -> Log:
    log, began = Log(), time.monotonic()
    dice = random.Random(seed)  # noqa: S311  (which process falls, not a secret)
    waiting = times(world.size, dice)
    while (at := time.monotonic() - began) < world.size.seconds or waiting:
        while waiting and waiting[0][0] <= at:
            _hit_somebody(world, waiting.pop(0)[1], log, dice)
        if world.size.engine == "postgres":
            _middle_third(world, at / world.size.seconds, log)
        log.health[world.status()] += 1
        time.sleep(0.1)
    return log


def _middle_third(world: World, part: float, log: Log) -> None:
    """First it forgets everything, again and again; then it is away."""
    redis = world.child("redis")
    if 1 / 3 <= part < 1 / 2:
        log.flushes += flush(world.redis_port)
    if not redis.held and 1 / 2 <= part < 2 / 3:
        redis.held = True
        log.kills["redis"] += _kill(redis.process.pid if redis.process and redis.alive else None)
    if part >= 2 / 3:
        redis.held = False


def flush(port: int) -> bool:
    """False while nobody is there."""
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1) as line:
        line.sendall(b"FLUSHALL\r\n")
        return line.recv(5) == b"+OK\r\n"
    return False


def _hit_somebody(world: World, wanted: Deed, log: Log, dice: random.Random) -> None:
    """Who lies on the ground already cannot fall: then somebody else does."""
    deeds = list(odds(world.size))
    for deed in (wanted, *dice.sample(deeds, len(deeds))):
        if _hit(world, deed, log, dice):
            return


def _hit(world: World, deed: Deed, log: Log, dice: random.Random) -> bool:
    """False when there was nobody to hit."""
    if deed in CHILDREN:
        parents, said = CHILDREN[deed]
        found = [pid for name in parents for pid in children_of(world.child(name), said)]
        hit = _kill(dice.choice(found) if found else None)
    else:
        child = world.child(deed)
        hit = int(child.process is not None and child.alive)
        # All of its group: a worker's own children would live on.
        child.send(signal.SIGKILL)
    log.kills[deed] += hit
    return bool(hit)


def children_of(parent: Child, said: bytes) -> list[int]:
    """The processes that it started itself, and whose command line says so, in the order they were started."""
    found = []
    for path in Path("/proc").glob("[0-9]*") if parent.process is not None else ():
        with contextlib.suppress(OSError):
            above = int((path / "stat").read_text().rpartition(")")[2].split()[1])
            if parent.process is not None and above == parent.process.pid and said in (path / "cmdline").read_bytes():
                found.append(int(path.name))
    return sorted(found)


def _kill(pid: int | None) -> int:
    if pid is None:
        return 0
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return 0
    return 1


def let_the_rest_go_out(world: World, log: Log) -> None:
    """The mail server is well and nobody falls any more. An hour goes by as often as rows still wait for one."""
    world.server.mailbox.is_calm = True
    began = moved = time.monotonic()
    fewest = world.size.rows + 1
    while time.monotonic() - moved < STUCK_SECONDS:
        left = world.ask("open")
        if left["open"] == 0:
            break
        if left["open"] < fewest:
            fewest, moved = left["open"], time.monotonic()
        if left["free"] == 0:
            _an_hour_goes_by(world)
        time.sleep(1)
    log.calm_seconds = time.monotonic() - began


def _an_hour_goes_by(world: World) -> None:
    """No worker may run meanwhile: a lease that runs out under its holder would be a lie."""
    for name in WORKERS:
        child = world.child(name)
        child.held = True
        child.send(signal.SIGKILL)
        if child.process is not None:
            child.process.wait()
    world.ask("later")
    for name in WORKERS:
        world.child(name).held = False

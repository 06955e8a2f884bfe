"""`make chaos`: the whole storm in about ten minutes; `make chaos SECONDS=60`: a bounded one.

Ends with 1 when a rule is broken. The whole storm is written to benchmarks/chaos.json.
"""

import argparse
import json
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from scripts.chaos import comparing, storm
from scripts.chaos import world as worlds
from scripts.chaos.comparing import Row, Rule
from scripts.chaos.size import FULL_SECONDS, Engine, Size, engines_for, sizes

RECORD = worlds.ROOT / "benchmarks" / "chaos.json"
LEAST_KILLS = 200


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=FULL_SECONDS, help="about how long it may take")
    parser.add_argument("--engine", choices=["postgres", "sqlite"], help="only this one")
    parser.add_argument("--seed", type=int, default=int(time.time()), help="the dice of an earlier run")
    given = parser.parse_args()
    # Told to end from outside, it still ends its processes first.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(2))
    engines: list[Engine] = [given.engine] if given.engine else engines_for(given.seconds)
    found = [one_storm(size, seed=given.seed) for size in sizes(seconds=given.seconds, engines=engines)]
    rules = [rule for one in found for rule in one["rules"]]
    if given.seconds >= FULL_SECONDS and not given.engine:
        kills = sum(one["kills"] for one in found)
        rules.append(Rule(name=f"kills short of {LEAST_KILLS}", found=max(0, LEAST_KILLS - kills)))
        write(found, RECORD)
    return 0 if all(rule.holds for rule in rules) else 1


def one_storm(size: Size, *, seed: int) -> dict[str, Any]:
    began = time.monotonic()
    with worlds.start(size, seed=seed) as world:
        log = storm.rage(world, seed=seed)
        storm.let_the_rest_go_out(world, log)
        rows = [Row(**row) for row in world.ask("look")]
        box = world.server.mailbox
        kills = sum(log.kills.values())
        rules = comparing.judge(rows, box.arrivals, kills=kills, breaks=box.breaks)
        rules.append(Rule(name="trail that does not verify", found=int(not world.manage("trail_verify"))))
        ends = world.logs()
    found = {
        "engine": size.engine,
        "rows": size.rows,
        "seconds": round(time.monotonic() - began),
        "storm_seconds": round(size.seconds),
        "calm_seconds": round(log.calm_seconds),
        "seed": seed,
        "kills": kills,
        "killed": dict(sorted(log.kills.items())),
        "redis_flushed": log.flushes,
        "breaks_after_the_data": box.breaks,
        "moods": dict(sorted(box.moods.items())),
        "states": {state: sum(row.state == state for row in rows) for state in sorted({row.state for row in rows})},
        "health": {str(status): count for status, count in sorted(log.health.items())},
        "rules": rules,
    }
    show(found)
    if not all(rule.holds for rule in rules):
        print(ends)
    return found


def show(found: dict[str, Any]) -> None:
    console = Console()
    heading = f"{found['engine']}: {found['rows']} rows, {found['kills']} kills, {found['seconds']} s"
    table = Table(title=f"{heading}, seed {found['seed']}")
    for name in ("what must not be", "found", "at most", "holds"):
        table.add_column(name, justify="right" if name in {"found", "at most"} else "left")
    for rule in found["rules"]:
        table.add_row(rule.name, str(rule.found), str(rule.most), "yes" if rule.holds else f"NO {rule.rows}")
    console.print(table)
    for name in ("killed", "moods", "states", "health"):
        console.print(f"{name}: " + ", ".join(f"{key} {count}" for key, count in found[name].items()))


def write(found: Sequence[dict[str, Any]], record: Path) -> None:
    """With the commit and the date it ran at."""
    commit = subprocess.run(
        ["git", "rev-parse", "HEAD"], check=True, capture_output=True, text=True, cwd=worlds.ROOT
    ).stdout.strip()
    date = datetime.now(tz=UTC).date().isoformat()
    runs = [{**one, "rules": [_row(rule) for rule in one["rules"]]} for one in found]
    record.write_text(json.dumps({"commit": commit, "date": date, "runs": runs}, indent=1) + "\n")


def _row(rule: Rule) -> dict[str, object]:
    return {"name": rule.name, "found": rule.found, "most": rule.most, "holds": rule.holds}


if __name__ == "__main__":
    sys.exit(main())

"""Runs the whole suite on both databases, beside them the tests with real processes: `make test`, `make soak`."""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

from scripts.lint import PYTHON, ROOT

WORKERS = "2"
SOAK = ["--soak", "-m", "soak", "--timeout", "7200"]
# Each lane runs its tests one after the other.
Lanes = Sequence[Mapping[str, list[str]]]


def lanes(*, soak: bool) -> Lanes:
    if soak:
        return [{"full sizes on SQLite": SOAK, "full sizes on PostgreSQL": [*SOAK, "--db", "postgres"]}]
    return [
        # Two worlds at a time, the longest tests first; those of a module or a class share their world.
        {"real processes": ["-n", WORKERS, "--dist", "loadscope", "--no-loadscope-reorder", "-m", "world"]},
        {
            "SQLite": ["-n", WORKERS, "-m", "not world"],
            "PostgreSQL": ["-n", WORKERS, "-m", "not world and not bare", "--db", "postgres"],
        },
    ]


def run(lane: Mapping[str, list[str]], *, beside: bool) -> list[str]:
    """The names of those that failed. What a lane beside the first one is given is what the first one leaves."""
    failed = []
    words = ["nice", "-n", "10"] if beside else []
    for name, options in lane.items():
        started = time.monotonic()
        with tempfile.TemporaryFile("w+") as said:
            # 5: nothing was collected, which is as bad as a failure.
            code = subprocess.run(
                [*words, PYTHON, "-m", "pytest", "-q", *options],
                check=False,
                cwd=ROOT,
                stdout=said,
                stderr=subprocess.STDOUT,
            ).returncode
            said.seek(0)
            end = f"== {name}: {'passed' if code == 0 else 'FAILED'} ({time.monotonic() - started:.0f} s)"
            # In one piece, so that two that end together do not mix.
            print(f"== {name}\n{said.read()}{end}", flush=True)
        failed += [name] if code else []
    return failed


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--soak", action="store_true", help="the full sizes, for hours")
    wanted = lanes(soak=parser.parse_args().soak)
    # A browser waits for pages most of its time; meanwhile the others have the processors, and it has them first.
    with ThreadPoolExecutor(len(wanted)) as pool:
        running = [pool.submit(run, lane, beside=number > 0) for number, lane in enumerate(wanted)]
    failed = [name for lane in running for name in lane.result()]
    if failed:
        print(f"Failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

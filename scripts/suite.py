"""Runs the whole suite on both databases, then the tests with real processes: `make test`, `make soak`."""

import argparse
import subprocess
import sys
import time

from scripts.lint import ROOT, tool

WORKERS = "2"
PARALLEL = ["-n", WORKERS, "-m", "not world"]


def runs(*, soak: bool) -> dict[str, list[str]]:
    if soak:
        return {
            "full sizes on SQLite": ["--soak", "-m", "soak", "--timeout", "7200"],
            "full sizes on PostgreSQL": ["--soak", "-m", "soak", "--timeout", "7200", "--db", "postgres"],
        }
    return {
        "SQLite": PARALLEL,
        "PostgreSQL": ["-n", WORKERS, "-m", "not world and not bare", "--db", "postgres"],
        # Three worlds at a time, as much of theirs is waiting for a page; the longest tests first.
        # Those of a module or a class share their world.
        "real processes": ["-n", "3", "--dist", "loadscope", "--no-loadscope-reorder", "-m", "world"],
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--soak", action="store_true", help="the full sizes, for hours")
    failed: list[str] = []
    for name, options in runs(soak=parser.parse_args().soak).items():
        started = time.monotonic()
        print(f"== {name}", flush=True)
        done = subprocess.run([tool("pytest"), "-q", *options], check=False, cwd=ROOT)
        # 5: nothing was collected, which is as bad as a failure.
        if done.returncode != 0:
            failed.append(name)
        print(
            f"== {name}: {'passed' if done.returncode == 0 else 'FAILED'} ({time.monotonic() - started:.0f} s)",
            flush=True,
        )
    if failed:
        print(f"Failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

"""Brings a fresh demo up in a temporary folder, drives it over HTTP, brings it down: `make demo-check`.

Ends with 0 only when every step passed and no process was left behind.
"""

import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from scripts.demo import ROOT, desk, free_port
from scripts.visitor import Answer, Visitor

FIRST_SECONDS = 120
SECOND_SECONDS = 15
HEALTH_SECONDS = 60


class CheckFailed(Exception):
    """A step did not do what it is for."""


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="casebook-demo-") as folder:
        home = Path(folder)
        try:
            up_and_down(home, aim_seconds=FIRST_SECONDS, drive=drive)
            up_and_down(home, aim_seconds=SECOND_SECONDS, drive=lambda visitor, _: expect_health(visitor))
        except CheckFailed as failure:
            print(f"FAIL {failure}")
            for log in sorted((home / "log").glob("*.log")):
                print(f"== {log.name}\n{log.read_text()[-3000:]}")
            return 1
    print("The demo came up, answered, and went down, twice.")
    return 0


def up_and_down(home: Path, *, aim_seconds: int, drive: Callable[[Visitor, Path], None]) -> None:
    port = free_port()
    command = [sys.executable, "-m", "scripts.demo", "--port", str(port), "--home", str(home)]
    started = time.monotonic()
    demo = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT, start_new_session=True)
    try:
        wait_until_open(demo)
        seconds = time.monotonic() - started
        # Said, not judged: how busy this machine is says nothing about the program.
        print(
            f"{'ok  ' if seconds <= aim_seconds else 'slow'} open after {seconds:.0f} s, {aim_seconds} s are aimed at",
            flush=True,
        )
        drive(Visitor(f"http://localhost:{port}"), home)
    finally:
        # As Ctrl-C in a terminal does.
        demo.send_signal(signal.SIGINT)
        left = demo.wait(60)
    if left != 0:
        raise CheckFailed(f"it ended with {left} when told to stop")
    if Visitor(f"http://localhost:{port}").answers():
        raise CheckFailed("a process still answers after the end")


def wait_until_open(demo: "subprocess.Popen[str]") -> None:
    for line in demo.stdout or ():
        if "http://localhost:" in line:
            return
    raise CheckFailed(f"it ended with {demo.wait()} before it was open")


def drive(visitor: Visitor, home: Path) -> None:
    expect_health(visitor)
    expect(visitor.get("/sign-in/"), "sign-in page", status=200)
    expect_closed_door(visitor)
    person = desk(home)
    today = visitor.sign_in(email=person.email, password=person.password)
    expect(today, "Today, as the front desk", status=200)
    if "/sign-in/" in today.address:
        raise CheckFailed("the front desk could not sign in")
    print(f"ok   {today.title}", flush=True)


def expect_health(visitor: Visitor) -> None:
    """Green only once beat has rung and the worker has swept."""
    deadline = time.monotonic() + HEALTH_SECONDS
    while (answer := visitor.get("/health/")).status != 200:
        if time.monotonic() > deadline:
            raise CheckFailed(f"/health/ still answers {answer.status}: {answer.text[:500]}")
        time.sleep(0.5)
    print("ok   health is green", flush=True)


def expect_closed_door(visitor: Visitor) -> None:
    answer = visitor.get("/")
    if "/sign-in/" not in answer.address:
        raise CheckFailed(f"{answer.address} opened without a sign-in")


def expect(answer: Answer, what: str, *, status: int) -> None:
    if answer.status != status or not answer.title:
        raise CheckFailed(f"{what} answered {answer.status} with the title “{answer.title}”")
    print(f"ok   {what}", flush=True)


if __name__ == "__main__":
    sys.exit(main())

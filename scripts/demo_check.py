"""Brings a fresh demo up in a temporary folder, drives it over HTTP, brings it down: `make demo-check`.

Ends with 0 only when every step passed and no process was left behind.
"""

import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from scripts.demo import ROOT, desk, free_port
from scripts.visitor import Answer, Visitor

FIRST_SECONDS = 120
SECOND_SECONDS = 15
HEALTH_SECONDS = 60
PATIENT_LINK = re.compile(r'href="(/patients/\d+/)"')
CASE_LINK = re.compile(r'href="(/cases/\d+/)"')


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
    expect_a_case(visitor)
    # Both are open to everybody who has the demo before them.
    expect(visitor.get("/demo/mailbox/"), "demo mailbox", status=200, words=("Nothing here has left this computer",))
    expect(visitor.get("/demo/clock/"), "demo clock", status=200, words=("In this demo it is", "Jump ahead"))


def expect_a_case(visitor: Visitor) -> None:
    """By the way the front desk takes: one of the newest in the register, then the case on that patient's page."""
    page = visitor.get(first_link(visitor.get("/patients/"), PATIENT_LINK))
    case = visitor.get(first_link(page, CASE_LINK))
    expect(case, "case page", status=200, words=("Shade ladder", "What happened", "Visits", "Messages"))


def first_link(answer: Answer, pattern: "re.Pattern[str]") -> str:
    link = pattern.search(answer.text)
    if link is None:
        raise CheckFailed(f"{answer.address} ({answer.status}, “{answer.title}”) has no link like {pattern.pattern}")
    return link.group(1)


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


def expect(answer: Answer, what: str, *, status: int, words: Sequence[str] = ()) -> None:
    if answer.status != status or not answer.title:
        raise CheckFailed(f"{what} answered {answer.status} with the title “{answer.title}”")
    if missing := [each for each in words if each not in answer.text]:
        raise CheckFailed(f"{what} does not say: {', '.join(missing)}")
    print(f"ok   {what}", flush=True)


if __name__ == "__main__":
    sys.exit(main())

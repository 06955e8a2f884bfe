"""Sweepers as real processes on a database of their own: they race, and one is killed in the act."""

import asyncio
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests import postgres
from tests.apart import ROOT, Home, a_home
from tests.mailserver import free_port


@dataclass
class Letterbox:
    """Counts Message-IDs; while `holds`, it takes the data and never answers."""

    ids: Counter[str] = field(default_factory=Counter)
    url: str = ""
    holds: bool = False
    holding: threading.Event = field(default_factory=threading.Event)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        assert isinstance(envelope.content, bytes)
        lines = envelope.content.decode().splitlines()
        self.ids[next(line for line in lines if line.startswith("Message-ID: ")).removeprefix("Message-ID: ")] += 1
        if self.holds:
            self.holding.set()
            await asyncio.sleep(60)
        return "250 Taken"


@pytest.fixture
def letterbox() -> Iterator[Letterbox]:
    box = Letterbox()
    controller = Controller(box, hostname="127.0.0.1", port=free_port())
    controller.start()
    box.url = f"smtp://127.0.0.1:{controller.port}"
    yield box
    controller.stop()


@pytest.fixture
def home(vendor: str, tmp_path: Path, request: pytest.FixtureRequest, letterbox: Letterbox) -> Iterator[Home]:
    """A migrated database on the engine of this run, and a mail server beside it."""
    for made in a_home("tests.clinic.messages.racing", vendor, tmp_path, request):
        made.env["CASEBOOK_EMAIL_URL"] = letterbox.url
        yield made


def test_two_sweepers_never_claim_one_row_twice(home: Home, letterbox: Letterbox) -> None:
    count = 100
    seen = home.run("race", count)
    assert sum(seen["claimed"]) == count
    # Both had their share: otherwise nothing was raced.
    assert min(seen["claimed"]) > 0
    assert seen["states"] == ["handed_over"] * count
    assert seen["attempts"] == [1] * count
    assert letterbox.ids == Counter(seen["ids"])


def test_two_for_one_patient_that_meet_in_two_sweeps_are_still_one_a_day(home: Home) -> None:
    count = 50
    seen = home.run("pairs", count)
    assert min(seen["claimed"]) > 0
    # Where both gave way to each other, neither went out yet.
    assert set(seen["met"]) <= {0, 1}
    assert seen["in_the_end"] == [1] * count


def test_killed_in_the_act_is_uncertain_and_the_rest_goes_on(home: Home, letterbox: Letterbox) -> None:
    letterbox.holds = True
    sweeper = home.start("sweep", 3)
    assert letterbox.holding.wait(60), "the sweeper never came to the data"
    sweeper.kill()
    sweeper.communicate()
    assert home.run("look")["states"] == ["handing_over", "claimed", "claimed"]
    letterbox.holds = False
    seen = home.run("expire")
    assert seen["states"] == ["uncertain", "handed_over", "handed_over"]
    # What was sent once, and might have been lost, was not sent again by itself.
    assert letterbox.ids == Counter(seen["ids"])


def test_the_loop_beats_and_stops_when_it_is_told_to(home: Home) -> None:
    home.run("prepare", 1)
    command = [sys.executable, "manage.py", "run_sweeper", "--every", "0.1", "--skip-checks"]
    loop = subprocess.Popen(command, cwd=ROOT, env=home.env)
    try:
        # This loop knows none of the test's kinds: what nobody knows any more fails where a person sees it.
        beats = home.run("wait", "failed")
        assert loop.poll() is None
    finally:
        loop.terminate()
    assert loop.wait(30) == 0
    assert beats == ["messages.sweep"]


@pytest.mark.parametrize(
    ("what", "told", "theirs"),
    [
        ("settle_call", "messages.call_settled", "clinic_messages_call"),
        ("send_again", "messages.seen_to", "clinic_messages_call"),
        ("see_to", "messages.seen_to", "due_message"),
    ],
)
def test_a_colleague_who_holds_the_patient_is_waited_for(
    home: Home, request: pytest.FixtureRequest, what: str, told: str, theirs: str
) -> None:
    """Whoever ends everything that waits for somebody locks them first; so does whoever sees to one message."""
    found = meeting(home, request, what)
    waited_for_the_patient(found, then="due_message")
    # Theirs counts, and of ours nothing is written.
    assert (found["told"], found["changed"]) == (told, [theirs])


@pytest.mark.parametrize(
    ("what", "told", "then"),
    [
        ("make_batch", "", "clinic_messages_call"),
        ("print_batch", "messages.no_letter_left", "clinic_messages_call"),
        ("post_batch", "", "clinic_messages_call"),
        ("put_back", "", "clinic_messages_call"),
        ("ask_new_link", "", "due_message"),
    ],
)
def test_letters_and_new_links_wait_for_the_patient_first(
    home: Home, request: pytest.FixtureRequest, what: str, told: str, then: str
) -> None:
    """Two who met in another order would wait in a circle; what the colleague noted holds."""
    found = meeting(home, request, what)
    waited_for_the_patient(found, then=then)
    assert (found["told"], found["outcomes"]) == (told, ["reached"])


def waited_for_the_patient(found: dict[str, Any], *, then: str) -> None:
    assert found["steps"][:4] == [
        "the colleague holds the patient",
        "we want clinic_patients_patient",
        "the colleague is through",
        f"we want {then}",
    ]


def meeting(home: Home, request: pytest.FixtureRequest, what: str) -> dict[str, Any]:
    if home.vendor == "sqlite":
        pytest.skip("SQLite has one lock for all: whoever writes waits for the one before")
    cluster: postgres.Cluster = request.getfixturevalue("postgres_cluster")
    found: dict[str, Any] = replace(home, program="tests.clinic.messages.interleaving").run(
        what, cluster.home, home.name
    )
    return found

"""A real SMTP server that drops, delays, refuses, and breaks after the data, as its dice say; and remembers."""

import asyncio
import random
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from email import message_from_bytes
from typing import Literal, cast

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests.mailserver import free_port

Mood = Literal["takes", "drops", "delays", "refuses for now", "refuses for good", "breaks", "swallows", "says nothing"]
# In a thousand mails. The last three are breaks after the data: nobody but this server knows what became of the mail.
DICE: dict[Mood, int] = {
    "takes": 905,
    "drops": 20,
    "delays": 30,
    "refuses for now": 20,
    "refuses for good": 10,
    "breaks": 8,
    "swallows": 5,
    "says nothing": 2,
}
AFTER_THE_DATA: frozenset[Mood] = frozenset({"breaks", "swallows", "says nothing"})
DELAY_SECONDS = 0.3


@dataclass
class Mailbox:
    """Message-ID → when a mail of that name was taken, by the wall clock. `seed` makes the moods repeat."""

    seed: int
    silence_seconds: float
    is_calm: bool = False
    arrivals: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    moods: Counter[Mood] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self._dice = random.Random(self.seed)  # noqa: S311  (moods, not secrets)

    @property
    def breaks(self) -> int:
        return sum(self.moods[mood] for mood in AFTER_THE_DATA)

    async def handle_RCPT(  # noqa: N802  (its name)
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        mood = self._mood()
        session.mood = mood  # type: ignore[attr-defined]  # remembered until the data
        if mood == "refuses for now":
            return self._did(mood, "450 Come back later")
        if mood == "refuses for good":
            return self._did(mood, "550 Nobody of that name")
        if mood == "drops":
            self._did(mood)
            _hang_up(server)
        envelope.rcpt_tos.append(address)
        return "250 Yes"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        mood: Mood = getattr(session, "mood", "takes")
        if mood != "swallows":
            # Bytes, as long as the controller is not told to decode them.
            name = str(message_from_bytes(cast(bytes, envelope.content))["Message-ID"])
            self.arrivals[name].append(time.time())
        self._did(mood)
        if mood == "delays":
            await asyncio.sleep(DELAY_SECONDS)
        if mood == "says nothing":
            # Longer than anybody waits.
            await asyncio.sleep(self.silence_seconds)
        if mood in AFTER_THE_DATA:
            _hang_up(server)
        return "250 Taken"

    def _mood(self) -> Mood:
        if self.is_calm:
            return "takes"
        return self._dice.choices(list(DICE), weights=list(DICE.values()))[0]

    def _did(self, mood: Mood, answer: str = "") -> str:
        self.moods[mood] += 1
        return answer


def _hang_up(server: SMTP) -> None:
    cast(asyncio.Transport, server.transport).abort()


@dataclass
class WildServer:
    mailbox: Mailbox
    controller: Controller

    @property
    def url(self) -> str:
        return f"smtp://127.0.0.1:{self.controller.port}"

    def stop(self) -> None:
        self.controller.stop()


def start(*, seed: int, silence_seconds: float) -> WildServer:
    mailbox = Mailbox(seed=seed, silence_seconds=silence_seconds)
    controller = Controller(mailbox, hostname="127.0.0.1", port=free_port())
    controller.start()
    return WildServer(mailbox=mailbox, controller=controller)

"""Whether messages go out as they should: how late the oldest due one is, and when each loop last came round."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.metadata import version

from django.conf import settings
from django.db.models import Min

from clinic.messages.models import DueMessage, Heartbeat, State, TroubleMail

LATE = timedelta(minutes=5)
SILENT = timedelta(minutes=2)
SWEEP, MAILBOX = "messages.sweep", "messages.mailbox"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """`lateness` of the oldest row that should have gone; `silences` per loop, None for one that never beat."""

    lateness: timedelta
    silences: dict[str, timedelta | None]
    # In the practice's mailbox; a person has to read them there.
    unread_mails: int

    @property
    def is_late(self) -> bool:
        return self.lateness > LATE

    @property
    def late_minutes(self) -> int:
        return self.lateness // timedelta(minutes=1)

    @property
    def is_stuck(self) -> bool:
        """What patients should hear does not go out; the mailbox has no part in that."""
        return self.is_late or any(self._is_silent(name) for name in self.silences if name != MAILBOX)

    @property
    def is_mailbox_silent(self) -> bool:
        return MAILBOX in self.silences and self._is_silent(MAILBOX)

    @property
    def is_red(self) -> bool:
        return self.is_stuck or self.is_mailbox_silent

    def _is_silent(self, name: str) -> bool:
        silence = self.silences[name]
        return silence is None or silence > SILENT


@dataclass(frozen=True, slots=True, kw_only=True)
class Health(Pulse):
    uncertain: int
    tzdata: str


def look(*, now: datetime, real_now: datetime) -> Health:
    seen = pulse(now=now, real_now=real_now)
    return Health(
        lateness=seen.lateness,
        silences=seen.silences,
        unread_mails=seen.unread_mails,
        uncertain=DueMessage.objects.filter(state=State.UNCERTAIN).count(),
        tzdata=version("tzdata"),
    )


def pulse(*, now: datetime, real_now: datetime) -> Pulse:
    """What decides between green and red, and what staff see to. Short queries, for a page that is opened often."""
    waiting = DueMessage.objects.filter(
        state__in=[State.PLANNED, State.DUE, State.CLAIMED, State.HANDING_OVER], due_at__lte=now
    )
    oldest: datetime | None = waiting.aggregate(oldest=Min("due_at"))["oldest"]
    beats = dict(Heartbeat.objects.values_list("name", "beat_at"))
    silences: dict[str, timedelta | None] = {SWEEP: None}
    unread = 0
    if settings.MAILBOX_URL:
        silences[MAILBOX] = None
        unread = TroubleMail.objects.filter(tries__gte=TroubleMail.TRIES).count()
    silences |= {name: real_now - at for name, at in sorted(beats.items())}
    lateness = now - oldest if oldest is not None else timedelta(0)
    return Pulse(lateness=lateness, silences=silences, unread_mails=unread)


def beat(name: str, *, real_now: datetime) -> None:
    Heartbeat.objects.update_or_create(name=name, defaults={"beat_at": real_now})


def forget(name: str) -> None:
    """A loop that is switched off is not missed."""
    Heartbeat.objects.filter(name=name).delete()

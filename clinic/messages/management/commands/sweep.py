"""One sweep by hand, or by cron: hands over what is due and says what became of it."""

from typing import Any

from django.core.management.base import BaseCommand

from clinic.messages.health import SWEEP, beat
from clinic.messages.sweep import BATCH, sweep
from clinic.trail.clock import now, real_now


class Command(BaseCommand):
    help = "Hands over the messages that are due, once."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--limit", type=int, default=BATCH, help="at most so many messages")

    def handle(self, *args: Any, limit: int, **options: Any) -> None:
        done = sweep(now=now(), limit=limit)
        beat(SWEEP, real_now=real_now())
        self.stdout.write(str(done))

"""Sweeps for ever: for an installation without a queue engine. A supervisor starts it again when it ends."""

import signal
import threading
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import close_old_connections

from clinic.messages.health import SWEEP, beat
from clinic.messages.sweep import sweep
from clinic.trail.clock import now, real_now


class Command(BaseCommand):
    help = "Hands over the messages that are due, again and again, until it is told to stop."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--every", type=float, default=float(settings.TICK_SECONDS), help="seconds between sweeps")

    def handle(self, *args: Any, every: float, **options: Any) -> None:
        told_to_stop = threading.Event()

        def stop(_signal: int, _frame: FrameType | None) -> None:
            told_to_stop.set()

        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)
        while not told_to_stop.is_set():
            # As before each request: a connection that broke meanwhile is opened anew.
            close_old_connections()
            done = sweep(now=now())
            beat(SWEEP, real_now=real_now())
            # A full batch means that more may be waiting.
            told_to_stop.wait(0 if done.claimed else every)

"""Fills an empty database with the invented practice."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from rich.console import Console

from clinic.accounts.models import Practice
from clinic.trail.clock import real_now
from whitening.demo.world.load import load
from whitening.demo.world.people import PASSWORD, STAFF


class Command(BaseCommand):
    help = "Loads Fernbrook Dental Rooms into an empty database: three months behind, two weeks ahead."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=1, help="the same seed and day give the same world")
        parser.add_argument("--today", type=date.fromisoformat, help="the day that counts as today, YYYY-MM-DD")

    def handle(self, *args: Any, **options: Any) -> None:
        if Practice.objects.exists():
            raise CommandError("There is a practice in this database already. Load the demo into an empty one.")
        console = Console()
        now = real_now()
        today = options["today"] or now.date()
        # A day of another time has not begun.
        until = now if today == now.date() else None
        load(seed=options["seed"], today=today, until=until, say=lambda words: console.print(f"  {words}"))
        for one in STAFF:
            console.print(f"  {one.email}  {PASSWORD}  ({', '.join(one.roles)})")

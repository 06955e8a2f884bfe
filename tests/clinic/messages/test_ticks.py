"""What a tick rings for: two sweeps side by side where the database takes more than one writer."""

import pytest
from django.conf import settings
from django.core import mail

from clinic.config.celery import app
from clinic.messages import tasks
from clinic.messages.models import Heartbeat, State
from tests.cast import NOW
from tests.clinic.messages.writing import Planned, states


def test_a_tick_rings_for_two_sweeps_where_two_can_write(vendor: str) -> None:
    rung = {entry["task"]: entry for entry in settings.CELERY_BEAT_SCHEDULE.values()}
    app.loader.import_default_modules()
    assert set(rung) <= set(app.tasks)
    # Of a tick that nobody took in time nothing is left when the next one comes.
    assert all(entry["options"]["expires"] <= entry["schedule"] for entry in rung.values())
    assert ("messages.sweep_beside" in rung) == (vendor == "postgres")


@pytest.mark.django_db
def test_the_second_sweep_hands_over_and_leaves_the_heartbeat_to_the_first(
    planned: Planned, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(tasks, "now", lambda: NOW)
    tasks.sweep_beside()
    assert (states(), len(mail.outbox)) == ([State.HANDED_OVER], 1)
    assert not Heartbeat.objects.exists()

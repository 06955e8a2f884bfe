"""Once a day: sign-ins that ended are cleared away, those that count stay."""

from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client

from clinic.accounts.tasks import tidy
from clinic.config.celery import app
from clinic.trail.clock import real_now
from tests.cast import Cast
from tests.clinic.accounts.support import full_sign_in

pytestmark = pytest.mark.django_db


def test_it_works(cast: Cast) -> None:
    full_sign_in(Client(), cast.desk)
    full_sign_in(Client(), cast.desk)
    over, kept = Session.objects.values_list("pk", flat=True)
    Session.objects.filter(pk=over).update(expire_date=real_now() - timedelta(minutes=1))
    tidy()
    assert list(Session.objects.values_list("pk", flat=True)) == [kept]


def test_each_daily_tick_is_a_task() -> None:
    daily = {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values() if entry["schedule"] == 86400}
    assert daily == {"accounts.tidy", "messages.tidy"}
    app.loader.import_default_modules()
    assert daily <= set(app.tasks)

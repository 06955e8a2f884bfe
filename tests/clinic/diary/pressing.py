"""One desk's browser on the page that finds a time, in a program that is no test run."""

from datetime import datetime
from typing import Any

import time_machine
from django.conf import settings
from django.test import override_settings
from django.test.utils import setup_test_environment
from django.urls import reverse

from clinic.accounts.models import Role, Site, User
from clinic.diary.models import VisitCode, VisitType
from clinic.patients.models import Patient
from tests.cast import NOW, sign_in

# What is on a page can be asked for, mails stay here, and static files need no build.
setup_test_environment()
override_settings(
    STORAGES=settings.STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
).enable()


class Page:
    """Signed in before it is used: a session is written only once."""

    def __init__(self, site: Site) -> None:
        self.client = sign_in(User.objects.get(memberships__site=site, memberships__role=Role.DESK))
        self.visit = VisitType.objects.get(site=site, code=VisitCode.CONSULTATION)

    def press(self, patient: Patient, start_at: datetime) -> dict[str, Any]:
        """What the desk reads, and the first times that it is offered instead."""
        address = reverse("find_time", kwargs={"patient_pk": patient.pk})
        asked = f"visit_type={self.visit.pk}&from_on={start_at:%Y-%m-%d}"
        with time_machine.travel(NOW, tick=False):
            answer = self.client.post(f"{address}?{asked}", {"start_at": f"{start_at:%Y-%m-%dT%H:%M:%S%z}"})
        if answer.status_code == 302:
            return {"status": 302, "said": "booked", "next": []}
        found = answer.context["found"].openings.found[:3]
        said = answer.context["error"]
        assert said in answer.content.decode()
        return {"status": answer.status_code, "said": said, "next": [f"{one.start_at:%H:%M}" for one in found]}

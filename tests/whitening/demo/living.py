"""Run as a program in a demo of its own: a mail, a text, a jump of the clock; prints what it saw as JSON."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import re
import sys
from datetime import timedelta

import django

django.setup()

import pytest  # noqa: E402  (models exist only now)
from django.conf import settings  # noqa: E402
from django.db import transaction  # noqa: E402
from django.test import Client, override_settings  # noqa: E402

from clinic.messages.actions import plan  # noqa: E402
from clinic.messages.models import DueMessage  # noqa: E402
from clinic.messages.purposes import Window  # noqa: E402
from clinic.trail.clock import now, real_now  # noqa: E402
from clinic.trail.models import TrailEntry  # noqa: E402
from tests.cast import Cast, open_practice, sign_in  # noqa: E402
from tests.clinic.messages import writing  # noqa: E402
from whitening.demo.models import DemoClock, DemoMail, DemoText  # noqa: E402


def plan_both(cast: Cast) -> None:
    """A check with a link in two days, and one a month from now."""
    wishes = writing.Wishes(window=Window(opens_at=now(), closes_at=now() + timedelta(days=60)))
    writing.register(wishes, pytest.MonkeyPatch())
    with transaction.atomic():
        for step, days in enumerate((1.5, 28)):
            plan(
                kind=writing.CHECK,
                subject=("patient", cast.patient.pk),
                step=step,
                patient=cast.patient,
                site=cast.fernbrook,
                due_at=now() + timedelta(days=days),
                now=now(),
            )


def jump(desk: Client, by: str) -> dict[str, object]:
    before, real_before = now(), real_now()
    answer = desk.post("/demo/clock/", {"by": by})
    moved = round((now() - before) / timedelta(hours=1))
    return {"status": answer.status_code, "hours": moved, "states": states(), "real": (real_now() - real_before).days}


def states() -> list[str]:
    return list(DueMessage.objects.order_by("step").values_list("state", flat=True))


def main() -> None:
    cast = open_practice()
    plan_both(cast)
    desk, anybody = sign_in(cast.desk), Client()
    seen: dict[str, object] = {"empty": anybody.get("/demo/mailbox/").status_code}
    seen["refused"] = [anybody.get("/demo/clock/").status_code, desk.post("/demo/clock/", {"by": "x"}).status_code]
    seen["days"] = jump(desk, "days")
    mail = DemoMail.objects.get()
    page = anybody.get(f"/demo/mailbox/{mail.pk}/").content.decode()
    link = re.search(r'href="(/p/l/[^"]+)"', page)
    seen["link"] = anybody.get(link[1]).status_code if link else None
    cast.patient.channel, cast.patient.phone = "text", "+447700900123"
    cast.patient.save()
    seen["month"] = jump(desk, "month")
    text = DemoText.objects.get()
    seen["mail"] = {"to": mail.to, "id": mail.message_id == DueMessage.objects.get(step=0).message_id}
    seen["text"] = {"to": text.to, "body": text.body}
    seen["list"] = [anybody.get(path).status_code for path in ("/demo/mailbox/?to=amara", "/demo/mailbox/99/")]
    seen["page"] = desk.get("/demo/clock/").status_code
    seen["moves"] = TrailEntry.objects.filter(verb="demo.clock_moved").count()
    seen["noted"] = TrailEntry.objects.latest("pk").clock_shift_seconds // 3600
    seen["clock"] = DemoClock.objects.get().shift / timedelta(days=1)
    json.dump(seen, sys.stdout)


if __name__ == "__main__":
    plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    with override_settings(STORAGES=settings.STORAGES | {"staticfiles": plain}):
        main()

"""The text gateway of the demo, known to Apprise as demosms:// for as long as the demo runs."""

from typing import Any

from clinic.trail.clock import now
from whitening.demo.models import DemoText

SCHEMA = "demosms"


def register() -> None:
    from apprise.decorators import notify  # noqa: PLC0415  (only where a text is sent: it takes long to load)

    notify(on=SCHEMA, name="Demo mailbox")(keep)  # type: ignore[no-untyped-call]  # the library ships no types


def keep(body: str, title: str, notify_type: str, *args: Any, meta: dict[str, Any], **more: Any) -> bool:
    DemoText.objects.create(received_at=now(), to=f"+{meta['host']}"[:20], body=body[:480])
    return True

"""Figures for a monitor, in the open text format that monitors read: counts and ages, and nothing about anybody."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import Count

from clinic.messages.health import pulse
from clinic.messages.models import DueMessage, State

if TYPE_CHECKING:
    from prometheus_client.metrics_core import GaugeMetricFamily

HELD = [State.CLAIMED, State.HANDING_OVER]


def text(*, now: datetime, real_now: datetime) -> tuple[bytes, str]:
    """The page and its content type. Read anew each time: several processes answer, and none of them counts alone."""
    # Few installations are asked for it, and none before it is.
    from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, generate_latest  # noqa: PLC0415
    from prometheus_client.registry import Collector  # noqa: PLC0415

    class Table(Collector):
        def collect(self) -> "Iterator[GaugeMetricFamily]":
            return figures(now=now, real_now=real_now)

    registry = CollectorRegistry()
    registry.register(Table())
    return generate_latest(registry), CONTENT_TYPE_LATEST


def figures(*, now: datetime, real_now: datetime) -> "Iterator[GaugeMetricFamily]":
    from prometheus_client.metrics_core import GaugeMetricFamily  # noqa: PLC0415  (see text)

    due = GaugeMetricFamily(
        "casebook_due_messages", "Messages whose time has come, not settled yet.", labels=["state", "kind"]
    )
    waiting = DueMessage.objects.open().filter(due_at__lte=now).order_by()
    for state, kind, count in waiting.values_list("state", "kind").annotate(Count("pk")).order_by("state", "kind"):
        due.add_metric([state, kind], count)
    yield due
    yield GaugeMetricFamily(
        "casebook_held_messages",
        "Messages that a sweep has claimed or is handing over.",
        value=DueMessage.objects.filter(state__in=HELD).count(),
    )
    yield GaugeMetricFamily(
        "casebook_uncertain_messages",
        "Messages of which nobody knows whether they went out.",
        value=DueMessage.objects.filter(state=State.UNCERTAIN).count(),
    )
    seen = pulse(now=now, real_now=real_now)
    yield GaugeMetricFamily(
        "casebook_oldest_due_late_seconds", "How late the oldest due message is.", value=seen.lateness.total_seconds()
    )
    yield GaugeMetricFamily(
        "casebook_unread_mails", "Mails in the mailbox that could not be read.", value=seen.unread_mails
    )
    yield _ages(seen.silences)


def _ages(silences: dict[str, timedelta | None]) -> "GaugeMetricFamily":
    """A loop that never came round has no age: a monitor is told by its absence, and by /health/."""
    from prometheus_client.metrics_core import GaugeMetricFamily  # noqa: PLC0415  (see text)

    ages = GaugeMetricFamily("casebook_heartbeat_age_seconds", "How long ago a loop came round.", labels=["loop"])
    for name, silence in silences.items():
        if silence is not None:
            ages.add_metric([name], silence.total_seconds())
    return ages

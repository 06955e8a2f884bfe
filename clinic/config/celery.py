"""The doorbell: a worker that wakes the sweeps, and the beat that rings. It carries no data.

What is due lives in tables (clinic.messages); a lost or doubled tick changes nothing.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import os

from celery import Celery

from clinic.config.stuck_pool import EndsWithItsProcesses

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.config.settings")
app = Celery("casebook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.steps["worker"].add(EndsWithItsProcesses)

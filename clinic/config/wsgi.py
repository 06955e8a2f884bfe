"""The web application as gunicorn loads it."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.config.settings")
application = get_wsgi_application()
# Every page is read now, not at the first visit: what is read before the workers part, they share.
len(get_resolver().url_patterns)

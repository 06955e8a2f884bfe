"""The web application as gunicorn loads it."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.config.settings")
application = get_wsgi_application()

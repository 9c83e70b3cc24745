"""The entry point for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
application = get_wsgi_application()

from studio.startup import begin_beside  # noqa: E402 - needs the apps to be loaded

begin_beside()

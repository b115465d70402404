"""The WSGI entry for a server in front of a real plant."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
application = get_wsgi_application()

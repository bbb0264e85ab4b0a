"""The entrance for WSGI servers."""

import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "recycling.settings")
application = get_wsgi_application()
import_module("recycling.urls")  # else the first request of each worker waits for every door

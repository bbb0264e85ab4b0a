"""The entrance for WSGI servers."""

import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "recycling.settings")
application = get_wsgi_application()
for module in ("recycling.urls", "recycling.tasks"):  # else the first request waits for them
    import_module(module)

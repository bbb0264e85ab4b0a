"""The Celery application: the broker carries ids, the database knows of all work."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "recycling.settings")
app = Celery("recycling")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["recycling"])

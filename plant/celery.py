"""The Celery application; its beat schedule lives with the tasks in records/tasks.py."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
app = Celery("daybook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["records"])

"""The application that holds the workshop's facts."""

from django.apps import AppConfig


class RecyclingConfig(AppConfig):
    name = "recycling"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from recycling import celery, logs, start_checks  # noqa: F401

        logs.configure()

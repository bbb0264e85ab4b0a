"""The ledger as an application of its own."""

from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "recycling.ledger"
    label = "ledger"
    default_auto_field = "django.db.models.BigAutoField"

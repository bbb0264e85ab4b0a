"""What was set, seen and checked during a run; never edited."""

from __future__ import annotations

from django.db import models

from recycling.models.lots import Lot
from recycling.models.runs import Run


class RunSetting(models.Model):
    run = models.ForeignKey(Run, models.CASCADE, related_name="settings_log")
    key = models.CharField(max_length=40)
    value = models.CharField(max_length=120)
    seen = models.CharField(max_length=300, blank=True, default="")
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


class RunCheck(models.Model):
    run = models.ForeignKey(Run, models.CASCADE, related_name="checks")
    key = models.CharField(max_length=40)
    value = models.CharField(max_length=300)
    within = models.BooleanField(null=True)
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.key}: {self.value}"


class Feed(models.Model):
    """A refill of a machine with its time, in the order fed."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="feeds")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="feeds")
    mass_mg = models.BigIntegerField()
    happened_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.lot_id} at {self.happened_at}"

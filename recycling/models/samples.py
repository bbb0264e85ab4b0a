"""Samples of bottles that were weighed one by one, so that others need only be counted."""

from __future__ import annotations

from django.db import models

from recycling.models.machines import Scale
from recycling.models.workshops import Workshop


class BottleSample(models.Model):
    """``masses_mg`` lists one mass for each bottle, as weighed."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="samples")
    name = models.CharField(max_length=80)
    masses_mg = models.JSONField()
    scale = models.ForeignKey(Scale, models.PROTECT, null=True, related_name="samples")
    taken_date = models.DateField()
    note = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_sample")]

    def __str__(self) -> str:
        return self.name

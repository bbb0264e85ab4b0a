"""Polymers of a workshop, by the symbols of ISO 1043-1."""

from __future__ import annotations

from django.db import models

from recycling.models.workshops import Workshop


class Polymer(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="polymers")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    resin_code = models.PositiveSmallIntegerField(null=True)
    density_g_cm3 = models.FloatField(null=True)
    density_source = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "code"], name="one_polymer")]

    def __str__(self) -> str:
        return self.code

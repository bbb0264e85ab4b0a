"""Who is in a lot and how much: kept with each lot for speed, rebuilt from the postings."""

from __future__ import annotations

from django.db import models

from recycling.models.lots import Lot
from recycling.models.origins import Origin


class Composition(models.Model):
    lot = models.ForeignKey(Lot, models.CASCADE, related_name="composition")
    origin = models.ForeignKey(Origin, models.PROTECT, related_name="parts")
    mass_mg = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "origin"], name="one_part"),
            models.CheckConstraint(condition=models.Q(mass_mg__gt=0), name="part_positive"),
        ]
        indexes = [models.Index(fields=["origin", "lot"], name="part_origin_lot")]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.origin_id} in {self.lot_id}"

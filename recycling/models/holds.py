"""Lots that may not be drawn from until released."""

from __future__ import annotations

from django.db import models

from recycling.models.lots import Lot
from recycling.models.workshops import Workshop


class Hold(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="holds")
    lot = models.ForeignKey(Lot, models.CASCADE, related_name="holds")
    with_descendants = models.BooleanField(default=False)
    reason = models.CharField(max_length=500)
    placed_at = models.DateTimeField()
    placed_by = models.UUIDField(null=True)
    released_at = models.DateTimeField(null=True)
    released_by = models.UUIDField(null=True)
    release_reason = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        indexes = [
            models.Index(
                fields=["workshop", "lot"],
                name="hold_active",
                condition=models.Q(released_at__isnull=True),
            )
        ]

    def __str__(self) -> str:
        return f"hold on {self.lot_id}"

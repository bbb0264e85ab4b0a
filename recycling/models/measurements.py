"""What is measured of lots at the stages: particles and filament; never edited."""

from __future__ import annotations

from django.db import models

from recycling.models.lots import Lot


class ParticleSample(models.Model):
    """Largest dimensions of particles of a lot, mm, with the limit that held then."""

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="particle_samples")
    sizes_mm = models.JSONField()
    limit_mm = models.FloatField()
    allowed = models.FloatField()
    measured_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{len(self.sizes_mm)} particles of {self.lot_id}"


class FilamentReading(models.Model):
    """Diameters of a spool's filament along two axes, mm, in the order read."""

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="filament_readings")
    first_mm = models.JSONField()
    second_mm = models.JSONField(default=list)
    length_m = models.FloatField(null=True)
    measured_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{len(self.first_mm)} diameters of {self.lot_id}"

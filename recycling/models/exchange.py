"""What was told to other systems of figures that are computed when asked for."""

from __future__ import annotations

from django.db import models

from recycling.models.lots.runs import Run


class ToldEnergy(models.Model):
    """A figure of a run's energy, from when it was told; without one, that none was known.

    Never changed: when the figure does, a row follows, and the one before can be declared wrong.
    """

    run = models.ForeignKey(Run, models.CASCADE, related_name="told_energies")
    number = models.PositiveIntegerField()
    kwh = models.FloatField(null=True)
    method = models.CharField(max_length=60, blank=True, default="")
    told_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "number"], name="one_told_energy")]
        indexes = [models.Index(fields=["told_at"], name="energy_told")]

    def __str__(self) -> str:
        return f"{self.kwh} kWh of {self.run_id}"

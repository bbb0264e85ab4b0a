"""What a search for a cause found, frozen with the data it rests on."""

from __future__ import annotations

from django.db import models

from recycling.models.people import Workshop


class KeptFinding(models.Model):
    """``digest`` is the SHA-256 of ``body``, which is never written again."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="kept_findings")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=120)
    note = models.CharField(max_length=500, blank=True, default="")
    body = models.TextField()
    digest = models.CharField(max_length=64)
    sequence = models.BigIntegerField()
    kept_at = models.DateTimeField()
    kept_by = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="one_finding_number")
        ]

    def __str__(self) -> str:
        return f"finding {self.number}: {self.title}"

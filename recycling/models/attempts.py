"""How often somebody tried something lately; of an address only a salted hash is kept."""

from __future__ import annotations

from django.db import models


class Attempt(models.Model):
    bucket = models.CharField(max_length=64)
    window_start = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["bucket", "window_start"], name="one_attempt_count")
        ]
        indexes = [models.Index(fields=["window_start"], name="attempt_window")]

    def __str__(self) -> str:
        return f"{self.count} since {self.window_start}"

"""The first answer to each key, so that a client's repeat is not a second entry."""

from __future__ import annotations

from django.db import models

from recycling.models.workshops import Workshop


class Answer(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="answers")
    key = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    body = models.TextField(default="")
    created_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "key"], name="one_answer")]

    def __str__(self) -> str:
        return f"{self.key}: {self.status}"

"""Changes to facts that are not mass: who, when, what it was and what it became."""

from __future__ import annotations

from django.db import models

from recycling.ledger import guards
from recycling.models.workshops import Workshop

guards.TABLES.append("recycling_changeevent")


class ChangeEvent(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="changes")
    subject = models.CharField(max_length=60)
    deed = models.CharField(max_length=40)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.CharField(max_length=500, blank=True, default="")
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        indexes = [models.Index(fields=["workshop", "subject"], name="change_subject")]

    def __str__(self) -> str:
        return f"{self.deed} {self.subject}"

"""The outbox: work that commits with the data and is sent until it is done."""

from __future__ import annotations

from django.db import models

from recycling.models.workshops import Workshop


class Job(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="jobs")
    task = models.CharField(max_length=80)
    arguments = models.JSONField(default=dict)
    done_share = models.FloatField(default=0)
    created_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    failure = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        indexes = [
            models.Index(
                fields=["created_at"],
                name="job_unfinished",
                condition=models.Q(finished_at__isnull=True),
            )
        ]

    def __str__(self) -> str:
        return f"{self.task} {self.pk}"

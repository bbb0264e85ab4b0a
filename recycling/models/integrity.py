"""Archives of a workshop that somebody asked for; their files lie beside the database.

The outbox: work that commits with the data and is sent until it is done.
"""

from __future__ import annotations

from django.db import models

from recycling.models.people import Workshop


class WorkshopArchive(models.Model):
    """``token`` is in the file's name; after ``expires_at`` there is no file any more."""

    MAKING, READY, FAILED = "making", "ready", "failed"
    STATES = (MAKING, READY, FAILED)

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="archives")
    number = models.PositiveIntegerField()
    token = models.CharField(max_length=32)
    people = models.BooleanField(default=True)
    state = models.CharField(
        max_length=6, choices=[(state, state) for state in STATES], default=MAKING
    )
    step = models.CharField(max_length=8, default="waiting")
    done_share = models.FloatField(default=0)
    failure = models.CharField(max_length=500, blank=True, default="")
    facts = models.BigIntegerField(null=True)
    sequence = models.BigIntegerField(null=True)
    size_bytes = models.BigIntegerField(null=True)
    digest = models.CharField(max_length=64, blank=True, default="")
    asked_at = models.DateTimeField()
    asked_by = models.UUIDField(null=True)
    made_at = models.DateTimeField(null=True)
    expires_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="one_archive_number")
        ]

    def __str__(self) -> str:
        return f"archive {self.number}"


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

"""Files of entries that somebody brought: looked through first, then taken as a whole."""

from __future__ import annotations

from django.db import models

from recycling.models.people import Workshop


class ImportFile(models.Model):
    """``found`` is what a person sees before it is taken, and what came of it afterwards."""

    LOOKING, LOOKED, TAKING, TAKEN, FAILED = "looking", "looked", "taking", "taken", "failed"
    STATES = (LOOKING, LOOKED, TAKING, TAKEN, FAILED)

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="imports")
    number = models.PositiveIntegerField()
    name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    text = models.TextField()
    state = models.CharField(max_length=7, choices=[(state, state) for state in STATES])
    done_share = models.FloatField(default=0)
    found = models.JSONField(default=dict)
    brought_at = models.DateTimeField()
    brought_by = models.UUIDField(null=True)
    taken_at = models.DateTimeField(null=True)
    taken_by = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="one_import_number"),
            models.UniqueConstraint(fields=["workshop", "digest"], name="one_import_file"),
        ]

    def __str__(self) -> str:
        return self.name

"""Where mass first enters the book."""

from __future__ import annotations

from django.db import models

from recycling.models.sources import Programme, Source
from recycling.models.workshops import Workshop


class Origin(models.Model):
    COLLECTION, PURCHASE, OPENING = "collection", "purchase", "opening"
    KINDS = (COLLECTION, PURCHASE, OPENING)

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="origins")
    kind = models.CharField(max_length=10, choices=[(kind, kind) for kind in KINDS])
    code = models.CharField(max_length=14)
    number = models.BigIntegerField()
    source = models.ForeignKey(Source, models.PROTECT, null=True, related_name="collections")
    programme = models.ForeignKey(Programme, models.PROTECT, null=True, related_name="collections")
    supplier = models.CharField(max_length=120, blank=True, default="")
    document = models.CharField(max_length=120, blank=True, default="")
    happened_at = models.DateTimeField()
    received_by = models.UUIDField(null=True)
    consent = models.CharField(max_length=200, blank=True, default="")
    note = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "code"], name="one_origin_code"),
            models.UniqueConstraint(fields=["workshop", "number"], name="one_origin_number"),
        ]
        indexes = [models.Index(fields=["workshop", "kind", "happened_at"], name="origin_listing")]

    def __str__(self) -> str:
        return self.code

"""Who gives, and what a collection counts towards."""

from __future__ import annotations

from django.db import models

from recycling.models.workshops import Workshop


class Source(models.Model):
    KINDS = ("school", "shop", "household", "business", "club", "bin", "event", "other")

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="sources")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=[(kind, kind) for kind in KINDS])
    may_be_named = models.BooleanField(default=False)
    note = models.CharField(max_length=500, blank=True, default="")
    retired_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_source")]

    def __str__(self) -> str:
        return self.name


class Programme(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="programmes")
    name = models.CharField(max_length=120)
    funder = models.CharField(max_length=120, blank=True, default="")
    starts_date = models.DateField(null=True)
    ends_date = models.DateField(null=True)
    target_mg = models.BigIntegerField(null=True)
    retired_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_programme")]

    def __str__(self) -> str:
        return self.name

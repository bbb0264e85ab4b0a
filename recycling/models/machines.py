"""Machines, scales and containers of a workshop."""

from __future__ import annotations

from django.db import models

from recycling.models.workshops import Workshop


class Machine(models.Model):
    KINDS = ("wash tub", "cutter", "shredder", "sieve", "dryer", "extruder", "winder")

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="machines")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=[(kind, kind) for kind in KINDS])
    note = models.CharField(max_length=500, blank=True, default="")
    retired_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_machine")]

    def __str__(self) -> str:
        return self.name


class Scale(models.Model):
    CLASSES = ("I", "II", "III", "IIII")

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="scales")
    name = models.CharField(max_length=80)
    accuracy_class = models.CharField(
        max_length=4, choices=[(c, c) for c in CLASSES], default="III"
    )
    interval_mg = models.BigIntegerField()
    capacity_mg = models.BigIntegerField()
    checked_date = models.DateField(null=True)
    retired_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_scale")]

    def __str__(self) -> str:
        return self.name


class Container(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="containers")
    name = models.CharField(max_length=80)
    tare_mg = models.BigIntegerField()
    retired_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_container")]

    def __str__(self) -> str:
        return self.name

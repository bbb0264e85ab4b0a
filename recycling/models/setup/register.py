"""Machines, scales and containers of a workshop.

Polymers of a workshop, by the symbols of ISO 1043-1.
Who gives, and what a collection counts towards.
"""

from __future__ import annotations

from django.db import models

from recycling.models.people import Workshop


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


class Polymer(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="polymers")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    resin_code = models.PositiveSmallIntegerField(null=True)
    density_g_cm3 = models.FloatField(null=True)
    density_source = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "code"], name="one_polymer")]

    def __str__(self) -> str:
        return self.code


class Source(models.Model):
    KINDS = ("school", "shop", "household", "business", "maker", "club", "bin", "event", "other")

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="sources")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=[(kind, kind) for kind in KINDS])
    may_be_named = models.BooleanField(default=False)
    note = models.CharField(max_length=500, blank=True, default="")
    retired_at = models.DateTimeField(null=True)
    is_erased = models.BooleanField(default=False)

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

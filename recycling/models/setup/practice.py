"""How a workshop works: limits, windows and recipes, each with its source; the newest counts."""

from __future__ import annotations

from django.db import models

from recycling.models.people import Workshop
from recycling.models.setup.register import Machine


class Practice(models.Model):
    """One limit or habit of a workshop; never edited, the newest of each key counts."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="practices")
    key = models.CharField(max_length=40)
    value = models.FloatField()
    source = models.CharField(max_length=200)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        indexes = [models.Index(fields=["workshop", "key"], name="practice_key")]

    def __str__(self) -> str:
        return f"{self.key} = {self.value:g}"


class ProcessingWindow(models.Model):
    """Temperatures at which a polymer or purge compound is worked; the newest counts."""

    KINDS = ("polymer", "purge compound")

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="windows")
    material = models.CharField(max_length=40)
    kind = models.CharField(max_length=14, choices=[(kind, kind) for kind in KINDS])
    low_c = models.FloatField()
    high_c = models.FloatField()
    source = models.CharField(max_length=200)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(high_c__gt=models.F("low_c")), name="window_ends_above_start"
            )
        ]

    def __str__(self) -> str:
        return f"{self.material}: {self.low_c:g} to {self.high_c:g} °C"


class MaterialData(models.Model):
    """Recipe and properties of a polymer as a set of named numbers; the newest of a kind counts."""

    KINDS = ("limits", "drying", "heats", "hydrolysis", "regain")

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="material_data")
    polymer = models.CharField(max_length=20)
    kind = models.CharField(max_length=10, choices=[(kind, kind) for kind in KINDS])
    values = models.JSONField()
    source = models.CharField(max_length=200)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.kind} of {self.polymer}"


class Barrel(models.Model):
    """Hold-up and flow of a machine's barrel; the newest counts."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="barrels")
    holdup_g = models.FloatField()
    plug_share = models.FloatField(default=0.0)
    tanks = models.PositiveSmallIntegerField(default=1)
    source = models.CharField(max_length=200)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(holdup_g__gt=0), name="holdup_positive")
        ]

    def __str__(self) -> str:
        return f"{self.holdup_g:g} g in {self.machine_id}"


class Changeover(models.Model):
    """A plan to go from one polymer to the next, and what it took in the end.

    ``plan`` is what was computed when it was kept: steps, masses, warnings.
    """

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="changeovers")
    machine = models.ForeignKey(Machine, models.CASCADE, related_name="changeovers")
    before = models.CharField(max_length=40)
    after = models.CharField(max_length=40)
    residue = models.FloatField()
    plan = models.JSONField()
    planned_at = models.DateTimeField()
    planned_by = models.UUIDField(null=True)
    purge_used_mg = models.BigIntegerField(null=True)
    flush_used_mg = models.BigIntegerField(null=True)
    residue_seen = models.FloatField(null=True)
    seen = models.CharField(max_length=500, blank=True, default="")
    used_at = models.DateTimeField(null=True)
    used_by = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.before} to {self.after} on {self.machine_id}"

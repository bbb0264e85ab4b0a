"""Lots, spools and what happens to them. A lot's key is its ledger account's key.

What was set, seen and checked during a run; never edited: what was wrong is superseded.
Who is in a lot and how much: kept with each lot for speed, rebuilt from the postings.
Lots that may not be drawn from until released.
What is measured of lots at the stages: particles and filament; never edited.
"""

from __future__ import annotations

from django.db import models

from recycling.ledger.models import Account
from recycling.models.lots.runs import Origin, Run
from recycling.models.people import Workshop
from recycling.models.setup.register import Machine


class Lot(models.Model):
    """``made_mg`` is what its run gave, corrections included; the account has what is on hand."""

    account = models.OneToOneField(Account, models.PROTECT, primary_key=True, related_name="lot")
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="lots")
    code = models.CharField(max_length=14)
    number = models.BigIntegerField()
    form = models.CharField(max_length=20)
    polymer = models.CharField(max_length=20)
    colour = models.CharField(max_length=40, blank=True, default="")
    role = models.CharField(max_length=11)
    made_by = models.ForeignKey(Run, models.PROTECT, related_name="outputs")
    made_mg = models.BigIntegerField()
    origin = models.ForeignKey(Origin, models.PROTECT, null=True, related_name="lots")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, related_name="heels")
    count = models.PositiveIntegerField(null=True)
    traces_mg = models.BigIntegerField(default=0)
    stale = models.BooleanField(default=False)
    note = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "code"], name="one_lot_code"),
            models.UniqueConstraint(fields=["workshop", "number"], name="one_lot_number"),
            models.CheckConstraint(
                condition=models.Q(made_mg__gte=0), name="lot_made_not_negative"
            ),
        ]
        indexes = [
            models.Index(fields=["workshop", "form", "number"], name="lot_form_number"),
            models.Index(fields=["made_by", "role"], name="lot_made_by_role"),
        ]

    def __str__(self) -> str:
        return self.code


class Spool(models.Model):
    lot = models.OneToOneField(Lot, models.CASCADE, primary_key=True, related_name="spool")
    diameter_mm = models.FloatField(default=1.75)
    tolerance_mm = models.FloatField(null=True)
    tare_mg = models.BigIntegerField(null=True)
    length_m = models.FloatField(null=True)

    def __str__(self) -> str:
        return f"spool {self.lot_id}"


class LotEvent(models.Model):
    """Something that happened to a lot without changing its mass; never edited."""

    KINDS = ("sealed", "opened", "moved", "printed", "note")

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="events")
    kind = models.CharField(max_length=8, choices=[(kind, kind) for kind in KINDS])
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    place = models.CharField(max_length=120, blank=True, default="")
    note = models.CharField(max_length=500, blank=True, default="")

    def __str__(self) -> str:
        return f"{self.kind} {self.lot_id}"


class InForce(models.Manager):
    """What was not put right since; the base manager has everything that was ever noted."""

    def get_queryset(self) -> models.QuerySet:
        return super().get_queryset().filter(superseded_at=None)


class RunSetting(models.Model):
    run = models.ForeignKey(Run, models.CASCADE, related_name="settings_log")
    key = models.CharField(max_length=40)
    value = models.CharField(max_length=120)
    seen = models.CharField(max_length=300, blank=True, default="")
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    superseded_at = models.DateTimeField(null=True)

    objects = InForce()

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


class RunCheck(models.Model):
    run = models.ForeignKey(Run, models.CASCADE, related_name="checks")
    key = models.CharField(max_length=40)
    value = models.CharField(max_length=300)
    within = models.BooleanField(null=True)
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    superseded_at = models.DateTimeField(null=True)

    objects = InForce()

    def __str__(self) -> str:
        return f"{self.key}: {self.value}"


class RunDeviation(models.Model):
    """What a run did otherwise than usual; follows from what is kept, and is kept in step."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="deviations")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="deviations")
    key = models.CharField(max_length=20)
    values = models.JSONField()

    def __str__(self) -> str:
        return f"{self.key} of {self.run_id}"


class Feed(models.Model):
    """A refill of a machine with its time, in the order fed."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="feeds")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="feeds")
    mass_mg = models.BigIntegerField()
    happened_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.lot_id} at {self.happened_at}"


class Composition(models.Model):
    lot = models.ForeignKey(Lot, models.CASCADE, related_name="composition")
    origin = models.ForeignKey(Origin, models.PROTECT, related_name="parts")
    mass_mg = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "origin"], name="one_part"),
            models.CheckConstraint(condition=models.Q(mass_mg__gt=0), name="part_positive"),
        ]
        indexes = [models.Index(fields=["origin", "lot"], name="part_origin_lot")]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.origin_id} in {self.lot_id}"


class Hold(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="holds")
    lot = models.ForeignKey(Lot, models.CASCADE, related_name="holds")
    with_descendants = models.BooleanField(default=False)
    reason = models.CharField(max_length=500)
    placed_at = models.DateTimeField()
    placed_by = models.UUIDField(null=True)
    released_at = models.DateTimeField(null=True)
    released_by = models.UUIDField(null=True)
    release_reason = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        indexes = [
            models.Index(
                fields=["workshop", "lot"],
                name="hold_active",
                condition=models.Q(released_at__isnull=True),
            )
        ]

    def __str__(self) -> str:
        return f"hold on {self.lot_id}"


class ParticleSample(models.Model):
    """Largest dimensions of particles of a lot, mm, with the limit that held then."""

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="particle_samples")
    sizes_mm = models.JSONField()
    limit_mm = models.FloatField()
    allowed = models.FloatField()
    measured_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{len(self.sizes_mm)} particles of {self.lot_id}"


class FilamentReading(models.Model):
    """Diameters of a spool's filament along two axes, mm, in the order read."""

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="filament_readings")
    first_mm = models.JSONField()
    second_mm = models.JSONField(default=list)
    length_m = models.FloatField(null=True)
    measured_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{len(self.first_mm)} diameters of {self.lot_id}"

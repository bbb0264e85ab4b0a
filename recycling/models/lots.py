"""Lots, spools and what happens to them. A lot's key is its ledger account's key."""

from __future__ import annotations

from django.db import models

from recycling.ledger.models import Account
from recycling.models.machines import Machine
from recycling.models.origins import Origin
from recycling.models.runs import Run
from recycling.models.workshops import Workshop


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

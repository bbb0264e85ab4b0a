"""Where mass first enters the book.

Runs, who worked on them, and what they drew. A run's key is its ledger account's key.
"""

from __future__ import annotations

from django.db import models

from recycling.ledger.models import Account
from recycling.models.people import Member, Workshop
from recycling.models.setup.register import Machine, Programme, Source


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


class Run(models.Model):
    OPEN, CLOSED, VOID = "open", "closed", "void"
    STATES = (OPEN, CLOSED, VOID)

    account = models.OneToOneField(Account, models.PROTECT, primary_key=True, related_name="run")
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="runs")
    code = models.CharField(max_length=14)
    number = models.BigIntegerField()
    stage = models.CharField(max_length=20)
    state = models.CharField(max_length=6, choices=[(state, state) for state in STATES])
    polymer = models.CharField(max_length=20, blank=True, default="")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, related_name="runs")
    origin = models.OneToOneField(Origin, models.PROTECT, null=True, related_name="run")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    composition_model = models.CharField(max_length=12, default="well mixed")
    note = models.CharField(max_length=500, blank=True, default="")
    operators = models.ManyToManyField(Member, through="RunOperator", related_name="runs")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "code"], name="one_run_code"),
            models.UniqueConstraint(fields=["workshop", "number"], name="one_run_number"),
            models.CheckConstraint(
                condition=models.Q(ended_at__isnull=True)
                | models.Q(ended_at__gte=models.F("started_at")),
                name="run_ends_after_start",
            ),
        ]
        indexes = [
            models.Index(fields=["workshop", "ended_at"], name="run_ended"),
            models.Index(fields=["workshop", "stage", "ended_at"], name="run_stage_ended"),
        ]

    def __str__(self) -> str:
        return self.code


class RunOperator(models.Model):
    run = models.ForeignKey(Run, models.CASCADE)
    member = models.ForeignKey(Member, models.PROTECT)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "member"], name="one_operator")]

    def __str__(self) -> str:
        return f"{self.member_id} on {self.run_id}"


class Draw(models.Model):
    """What a run took from a lot in all, corrections included; repeats the postings."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="draws")
    lot = models.ForeignKey("Lot", models.PROTECT, related_name="draws")
    mass_mg = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run", "lot"], name="one_draw"),
            models.CheckConstraint(condition=models.Q(mass_mg__gte=0), name="draw_not_negative"),
        ]
        indexes = [models.Index(fields=["lot", "run"], name="draw_lot_run")]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.lot_id} into {self.run_id}"


class Counted(models.Model):
    """What a count found in a lot; later news of earlier times does not change it."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="counted")
    lot = models.ForeignKey("Lot", models.PROTECT, related_name="counted")
    mass_mg = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "lot"], name="one_counted")]
        indexes = [models.Index(fields=["lot", "run"], name="counted_lot_run")]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.lot_id} counted"

"""Reconciled figures of a period: they stand beside the postings and change none of them."""

from __future__ import annotations

from django.db import models

from recycling.ledger.models import Posting
from recycling.models.lots import Lot
from recycling.models.runs import Run
from recycling.models.workshops import Workshop


class Reconciliation(models.Model):
    """``found`` is empty until the work is done; ``sequence`` says how far the book then went."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="reconciliations")
    number = models.PositiveIntegerField()
    start = models.DateTimeField()
    end = models.DateTimeField()
    sequence = models.BigIntegerField(default=0)
    asked_at = models.DateTimeField()
    asked_by = models.UUIDField(null=True)
    done_at = models.DateTimeField(null=True)
    done_share = models.FloatField(default=0)
    failure = models.CharField(max_length=500, blank=True, default="")
    found = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="one_reconciliation")
        ]

    def __str__(self) -> str:
        return f"reconciliation {self.number}"


class ReconciledFlow(models.Model):
    """One flow: its mass as weighed and as reconciled; ``z`` is empty where nothing tests it."""

    reconciliation = models.ForeignKey(Reconciliation, models.CASCADE, related_name="flows")
    place = models.PositiveIntegerField()
    kind = models.CharField(max_length=8)
    run = models.ForeignKey(Run, models.PROTECT, null=True, related_name="reconciled")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="reconciled")
    posting = models.ForeignKey(Posting, models.PROTECT, null=True, related_name="reconciled")
    measured_mg = models.BigIntegerField(null=True)
    u_mg = models.FloatField(null=True)
    reconciled_mg = models.BigIntegerField()
    u_reconciled_mg = models.FloatField()
    z = models.FloatField(null=True)
    suspect = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["reconciliation", "place"], name="one_flow_place")
        ]
        indexes = [
            models.Index(
                fields=["reconciliation", "place"],
                name="flow_suspect",
                condition=models.Q(suspect=True),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.place} of {self.reconciliation_id}"

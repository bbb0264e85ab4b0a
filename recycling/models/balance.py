"""Samples of bottles that were weighed one by one, so that others need only be counted.

How each mass became known.
Reconciled figures of a period: they stand beside the postings and change none of them.
"""

from __future__ import annotations

from django.db import models

from recycling.ledger.models import Posting
from recycling.models.lots.lots import Lot
from recycling.models.lots.runs import Counted, Run
from recycling.models.people import Workshop
from recycling.models.setup.register import Scale


class BottleSample(models.Model):
    """``masses_mg`` lists one mass for each bottle, as weighed."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="samples")
    name = models.CharField(max_length=80)
    masses_mg = models.JSONField()
    scale = models.ForeignKey(Scale, models.PROTECT, null=True, related_name="samples")
    taken_date = models.DateField()
    note = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_sample")]

    def __str__(self) -> str:
        return self.name


class Weighing(models.Model):
    """``raw`` is the reading as a scale sent it or a person typed it; ``u_mg`` what was stated.

    A count that found what the book had posted nothing; its weighing hangs on the count alone.
    """

    WEIGHED, COUNTED, ESTIMATED, BY_BOOK = "weighed", "counted", "estimated", "by book"
    HOW = (WEIGHED, COUNTED, ESTIMATED, BY_BOOK)

    posting = models.OneToOneField(Posting, models.PROTECT, null=True, related_name="weighing")
    counted = models.OneToOneField(Counted, models.PROTECT, null=True, related_name="weighing")
    how = models.CharField(max_length=9, choices=[(how, how) for how in HOW])
    gross_mg = models.BigIntegerField(null=True)
    tare_mg = models.BigIntegerField(null=True)
    scale = models.ForeignKey(Scale, models.PROTECT, null=True, related_name="weighings")
    sample = models.ForeignKey(BottleSample, models.PROTECT, null=True, related_name="weighings")
    u_mg = models.BigIntegerField(null=True)
    raw = models.CharField(max_length=120, blank=True, default="")
    reader = models.UUIDField(null=True)
    note = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(posting__isnull=False) | models.Q(counted__isnull=False),
                name="weighing_of_something",
            )
        ]

    def __str__(self) -> str:
        return f"{self.how} for posting {self.posting_id}"


class FigureDoubt(models.Model):
    """What was asked of a figure, and whether somebody said that it is right.

    ``said`` and ``suggestions`` are kept so that they can be said again in any language.
    """

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="doubts")
    run = models.ForeignKey(Run, models.PROTECT, null=True, related_name="doubts")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="doubts")
    key = models.CharField(max_length=120)
    said = models.JSONField()
    suggestions = models.JSONField(default=list)
    raised_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True)
    answered_by = models.UUIDField(null=True)

    class Meta:
        indexes = [
            models.Index(
                fields=["workshop", "id"],
                name="doubt_open",
                condition=models.Q(answered_at__isnull=True),
            )
        ]

    def __str__(self) -> str:
        return self.key


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

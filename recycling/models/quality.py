"""What the user of a spool says of it, and what a workshop asks of its products.

Of each giver the newest verdict that was decided on counts.
"""

from __future__ import annotations

from django.db import models

from recycling.models.lots.lots import Lot
from recycling.models.people import Workshop


class Verdict(models.Model):
    """``giver`` is a member's reference, or the hash of a token that a browser keeps."""

    COUNTED, WAITING, SET_ASIDE = "counted", "waiting", "set aside"
    STATES = (COUNTED, WAITING, SET_ASIDE)

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="verdicts")
    good = models.BooleanField()
    defects = models.JSONField(default=list)
    note = models.CharField(max_length=500, blank=True, default="")
    nozzle_c = models.FloatField(null=True)
    bed_c = models.FloatField(null=True)
    speed_mm_s = models.FloatField(null=True)
    giver = models.CharField(max_length=64)
    given_at = models.DateTimeField()
    state = models.CharField(
        max_length=9, choices=[(state, state) for state in STATES], default=COUNTED
    )
    decided_at = models.DateTimeField(null=True)
    decided_by = models.UUIDField(null=True)
    decision_reason = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        indexes = [
            models.Index(fields=["lot", "giver", "given_at"], name="verdict_newest"),
            models.Index(
                fields=["given_at"],
                name="verdict_waiting",
                condition=models.Q(state="waiting"),
            ),
        ]

    def __str__(self) -> str:
        return f"{'good' if self.good else 'bad'}: {self.lot_id}"


class VerdictPhoto(models.Model):
    """A photo with a verdict: pixels only, drawn anew; nothing of the file that was sent."""

    verdict = models.OneToOneField(Verdict, models.CASCADE, primary_key=True, related_name="photo")
    jpeg = models.BinaryField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"photo of verdict {self.verdict_id}"


class DeclaredCheck(models.Model):
    """What a workshop asks of a product made since a day; never edited, each is a new edition."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="declared_checks")
    edition = models.PositiveIntegerField()
    form = models.CharField(max_length=20)
    polymer = models.CharField(max_length=20, blank=True, default="")
    quantity = models.CharField(max_length=20)
    rule = models.CharField(max_length=10)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    least = models.PositiveIntegerField(default=1)
    share_percent = models.FloatField(null=True)
    sure_percent = models.FloatField(null=True)
    needed = models.BooleanField(default=True)
    off = models.BooleanField(default=False)
    defect = models.CharField(max_length=60, blank=True, default="")
    source = models.CharField(max_length=200)
    since = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "edition"], name="one_check_edition")
        ]

    def __str__(self) -> str:
        return f"edition {self.edition}: {self.quantity} of {self.form}"


class SecondChoice(models.Model):
    """A product that failed and is released as second choice; it stays failed."""

    lot = models.OneToOneField(Lot, models.CASCADE, primary_key=True, related_name="second_choice")
    reason = models.CharField(max_length=500)
    released_at = models.DateTimeField()
    released_by = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"second choice: {self.lot_id}"

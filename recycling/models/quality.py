"""What the user of a spool says of it; of each giver the newest that was decided on counts."""

from __future__ import annotations

from django.db import models

from recycling.models.lots.lots import Lot


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

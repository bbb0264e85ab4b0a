"""How each mass became known."""

from __future__ import annotations

from django.db import models

from recycling.ledger.models import Posting
from recycling.models.machines import Scale
from recycling.models.runs import Counted
from recycling.models.samples import BottleSample


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

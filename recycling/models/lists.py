"""Files of entries that somebody brought: looked through, asked about, taken, undone.

The rows of a list, each with what became of it, and what a workshop answered when it was asked.
"""

from __future__ import annotations

from django.db import models

from recycling.models.lots.lots import Lot
from recycling.models.people import Workshop


class ImportFile(models.Model):
    """``found`` is what a person sees before it is taken, and what came of it afterwards.

    ``answers`` are the choices made where the file leaves something open, by the questions' keys.
    """

    LOOKING, LOOKED, TAKING, TAKEN, FAILED = "looking", "looked", "taking", "taken", "failed"
    ASKED, UNDOING, UNDONE = "asked", "undoing", "undone"
    STATES = (LOOKING, ASKED, LOOKED, TAKING, TAKEN, FAILED, UNDOING, UNDONE)

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="imports")
    number = models.PositiveIntegerField()
    name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    data = models.BinaryField(default=b"")
    answers = models.JSONField(default=dict)
    state = models.CharField(max_length=7, choices=[(state, state) for state in STATES])
    done_share = models.FloatField(default=0)
    found = models.JSONField(default=dict)
    brought_at = models.DateTimeField()
    brought_by = models.UUIDField(null=True)
    taken_at = models.DateTimeField(null=True)
    taken_by = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="one_import_number"),
            models.UniqueConstraint(fields=["workshop", "digest"], name="one_import_file"),
        ]

    def __str__(self) -> str:
        return self.name


class ImportLine(models.Model):
    """A row of a list: what it says, and what becomes of it.

    ``lot`` is what it became once it is taken, or the lot of the book that it is already.
    """

    NEW, KNOWN, LEFT = "new", "known", "left"
    FATES = (NEW, KNOWN, LEFT)

    file = models.ForeignKey(ImportFile, models.CASCADE, related_name="lines")
    number = models.PositiveIntegerField()
    fate = models.CharField(max_length=5, choices=[(fate, fate) for fate in FATES])
    why = models.CharField(max_length=20, blank=True, default="")
    day = models.DateField(null=True)
    said = models.JSONField(default=dict)
    lot = models.ForeignKey(Lot, models.SET_NULL, null=True, related_name="lines")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["file", "number"], name="one_import_line"),
        ]
        indexes = [models.Index(fields=["file", "fate", "number"], name="import_line_fate")]

    def __str__(self) -> str:
        return f"row {self.number} of {self.file_id}"


class ListAnswer(models.Model):
    """What a workshop answered once about lists with these heads, or about a name in any list."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="list_answers")
    heads = models.CharField(max_length=64, blank=True, default="")
    key = models.CharField(max_length=200)
    choice = models.CharField(max_length=200)
    answered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "heads", "key"], name="one_list_answer"),
        ]

    def __str__(self) -> str:
        return f"{self.key}: {self.choice}"

"""Reports: asked for, made in the background, and what is frozen, which nothing changes again."""

from __future__ import annotations

from django.db import models

from recycling.ledger import guards
from recycling.models.people import Workshop

guards.TABLES.extend(["recycling_frozenreport", "recycling_reportfile"])


class Report(models.Model):
    """What was asked and how far it is; what it says is in ``FrozenReport``."""

    MAKING, READY, FAILED = "making", "ready", "failed"

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="reports")
    number = models.PositiveIntegerField()
    code = models.CharField(max_length=16)
    question = models.JSONField()
    language = models.CharField(max_length=12, default="en")
    asked_at = models.DateTimeField()
    asked_by = models.UUIDField(null=True)
    supersedes = models.ForeignKey("self", models.PROTECT, null=True, related_name="superseded_by")
    state = models.CharField(max_length=8, default=MAKING)
    step = models.CharField(max_length=20, default="waiting")
    done_share = models.FloatField(default=0)
    failure = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "number"], name="one_report_number"),
            models.UniqueConstraint(
                fields=["supersedes"],
                name="one_report_in_its_place",
                condition=models.Q(state__in=["making", "ready"]),
            ),
        ]

    def __str__(self) -> str:
        return f"report {self.code}"


class FrozenReport(models.Model):
    """``digest`` is the SHA-256 of ``body``, the canonical JSON; rows are never changed."""

    report = models.OneToOneField(Report, models.PROTECT, primary_key=True, related_name="frozen")
    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="frozen_reports")
    number = models.PositiveIntegerField()
    sequence = models.BigIntegerField()
    frozen_at = models.DateTimeField()
    title = models.CharField(max_length=500)
    body = models.TextField()
    digest = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"frozen {self.number}"


class ReportFile(models.Model):
    """A file as it was first made, so that a later program gives out the same bytes."""

    frozen = models.ForeignKey(FrozenReport, models.PROTECT, related_name="files")
    kind = models.CharField(max_length=8)
    name = models.CharField(max_length=80)
    held = models.BinaryField()
    size_bytes = models.PositiveIntegerField()
    digest = models.CharField(max_length=64, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["frozen", "kind"], name="one_file_of_a_kind")
        ]

    def __str__(self) -> str:
        return self.name


class ReportLink(models.Model):
    """The token follows from ``seed`` and the service's secret key; only its hash is kept."""

    report = models.ForeignKey(Report, models.CASCADE, related_name="links")
    seed = models.CharField(max_length=32)
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    created_by = models.UUIDField(null=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    revoked_by = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"link to report {self.report_id}"

"""Addresses that open one page of one spool without an account; only their hashes are kept."""

from __future__ import annotations

from django.db import models

from recycling.models.lots.lots import Lot
from recycling.models.people import Workshop


class PublicLink(models.Model):
    """The token follows from ``seed`` and the service's secret key, so a label can be reprinted."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="public_links")
    lot = models.ForeignKey(Lot, models.CASCADE, related_name="public_links")
    seed = models.CharField(max_length=32)
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    created_by = models.UUIDField(null=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    revoked_by = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["lot"], name="one_link_in_force", condition=models.Q(revoked_at=None)
            )
        ]

    def __str__(self) -> str:
        return f"link to {self.lot_id}"

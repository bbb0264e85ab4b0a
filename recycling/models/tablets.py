"""Shared tablets, PINs of those who act on them, and when they lock; of secrets only hashes."""

from __future__ import annotations

from django.db import models

from recycling.models.members import Member
from recycling.models.workshops import Workshop


class SharedTablet(models.Model):
    """A device at the bench; its cookie holds the token whose hash is here."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="tablets")
    label = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    created_by = models.UUIDField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.label


class MemberPin(models.Model):
    """What a member types to act on a shared tablet; one for each workshop."""

    member = models.OneToOneField(Member, models.CASCADE, primary_key=True, related_name="pin")
    digest = models.CharField(max_length=128)
    set_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"PIN of {self.member_id}"


class TabletRule(models.Model):
    """How long a workshop's tablets may lie untouched before they lock."""

    workshop = models.OneToOneField(
        Workshop, models.CASCADE, primary_key=True, related_name="tablet_rule"
    )
    lock_minutes = models.PositiveSmallIntegerField(default=5)

    def __str__(self) -> str:
        return f"{self.lock_minutes} min"

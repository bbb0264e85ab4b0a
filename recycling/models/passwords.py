"""Links by which somebody sets a new password; only their hashes are kept."""

from __future__ import annotations

from django.db import models

from recycling.models.members import Member


class PasswordLink(models.Model):
    """Made by a lead for a member of the workshop; good for one use until it expires."""

    member = models.ForeignKey(Member, models.CASCADE, related_name="password_links")
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    created_by = models.UUIDField(null=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"password link for {self.member_id}"

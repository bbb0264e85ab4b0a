"""People and keys. The ledger knows members by a random reference only."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.contrib.auth.models import AbstractUser
from django.db import models

from recycling.models.workshops import Workshop
from shared.roles import ROLES, SCOPES

if TYPE_CHECKING:
    from recycling.records.actors import Actor


class User(AbstractUser):
    """Somebody who can sign in; may belong to several workshops.

    ``actors`` says who they are in each, once they are found as whoever makes a request.
    """

    actors: list[Actor]


class Member(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="members")
    user = models.ForeignKey(User, models.SET_NULL, null=True, related_name="memberships")
    reference = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=10, choices=[(role, role) for role in ROLES])
    left_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "user"], name="one_membership"),
            models.UniqueConstraint(fields=["workshop", "name"], name="one_member_name"),
        ]

    def __str__(self) -> str:
        return self.name


class DeviceKey(models.Model):
    """A key for a script, a scale or a meter; only its hash is kept."""

    member = models.ForeignKey(Member, models.CASCADE, related_name="keys")
    label = models.CharField(max_length=80)
    prefix = models.CharField(max_length=12, unique=True)
    digest = models.CharField(max_length=64)
    scope = models.CharField(max_length=6, choices=[(scope, scope) for scope in SCOPES])
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"{self.prefix}… ({self.scope})"

"""The workshop: the tenant. Its key is its book's key.

People and keys. The ledger knows members by a random reference only.
Links by which somebody sets a new password; only their hashes are kept.
Second steps at sign-in: a code's secret follows from the seed and the service's secret key, which
the database does not hold; of recovery codes only hashes are kept.
Shared tablets, PINs of those who act on them, and when they lock; of secrets only hashes.
How often somebody tried something lately; of an address only a salted hash is kept.
Changes to facts that are not mass: who, when, what it was and what it became.
The first answer to each key, so that a client's repeat is not a second entry; another member's
key is not an answer for me.
Sessions that know whose they are, so that one's own can be listed and ended one by one.
"""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

from django.contrib.auth import SESSION_KEY
from django.contrib.auth.models import AbstractUser
from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import InterfaceError, InternalError, OperationalError, models

from recycling.ledger import guards
from recycling.ledger.models import Book
from shared.roles import ROLES, SCOPES


class Workshop(models.Model):
    """``identity`` is random and stays the same wherever the workshop is kept."""

    book = models.OneToOneField(Book, models.PROTECT, primary_key=True, related_name="workshop")
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=40, unique=True)
    zone = models.CharField(max_length=60, default="UTC")
    trace_floor_ppm = models.PositiveIntegerField(default=1)
    identity = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    def __str__(self) -> str:
        return self.name


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
    is_erased = models.BooleanField(default=False)

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


class SecondStep(models.Model):
    user = models.OneToOneField(User, models.CASCADE, primary_key=True, related_name="second_step")
    seed = models.CharField(max_length=64)
    since_at = models.DateTimeField()
    last_step = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"second step of {self.user_id}"


class RecoveryCode(models.Model):
    second_step = models.ForeignKey(SecondStep, models.CASCADE, related_name="recovery_codes")
    number = models.PositiveSmallIntegerField()
    digest = models.CharField(max_length=128)
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["second_step", "number"], name="one_recovery_code")
        ]

    def __str__(self) -> str:
        return f"recovery code {self.number} of {self.second_step_id}"


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


class Attempt(models.Model):
    bucket = models.CharField(max_length=64)
    window_start = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["bucket", "window_start"], name="one_attempt_count")
        ]
        indexes = [models.Index(fields=["window_start"], name="attempt_window")]

    def __str__(self) -> str:
        return f"{self.count} since {self.window_start}"


guards.TABLES.append("recycling_changeevent")


class ChangeEvent(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="changes")
    subject = models.CharField(max_length=60)
    deed = models.CharField(max_length=40)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.CharField(max_length=500, blank=True, default="")
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        indexes = [models.Index(fields=["workshop", "subject"], name="change_subject")]

    def __str__(self) -> str:
        return f"{self.deed} {self.subject}"


class EarlierName(models.Model):
    """What a member or source was called before; erased with them, as no change event can be."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="earlier_names")
    subject = models.CharField(max_length=60)
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    until_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "subject", "number"], name="one_earlier_name"
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject}, name {self.number}"


class Erasure(models.Model):
    """Who was erased, by keys that tell nothing; a restored backup is erased by them again."""

    workshop = models.UUIDField()
    kind = models.CharField(max_length=10)
    identity = models.CharField(max_length=40)
    erased_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "kind", "identity"], name="one_erasure")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.identity}"


class Answer(models.Model):
    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="answers")
    actor = models.UUIDField(null=True)
    key = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    body = models.TextField(default="")
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "actor", "key"], name="one_answer")
        ]

    def __str__(self) -> str:
        return f"{self.key}: {self.status}"


class UserSession(AbstractBaseSession):
    """A session that knows whose it is, and goes with its user."""

    user = models.ForeignKey(User, models.CASCADE, null=True, related_name="sessions")

    class Meta:
        pass

    @classmethod
    def get_session_store_class(cls) -> type[SessionStore]:
        return SessionStore


class SessionStore(DatabaseStore):
    """The engine of sessions, by the name that the framework asks for."""

    @classmethod
    def get_model_class(cls) -> type[UserSession]:
        return UserSession

    def create_model_instance(self, data: dict[str, Any]) -> UserSession:
        row = super().create_model_instance(data)
        assert isinstance(row, UserSession)
        row.user_id = data.get(SESSION_KEY)
        return row

    def save(self, must_create: bool = False) -> None:
        """Write it; a book that takes no writing is said as that, not as a session that ended."""
        try:
            super().save(must_create)
        except UpdateError as error:
            if isinstance(error.__context__, (OperationalError, InternalError, InterfaceError)):
                raise error.__context__ from error
            raise

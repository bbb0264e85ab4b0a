"""Who is signed in, and who they are in each of their workshops: one query a request."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib.auth.backends import ModelBackend

from recycling.queries.people.members import person

if TYPE_CHECKING:
    from recycling.models import User


class People(ModelBackend):
    """Accounts of this service; ``user.actors`` says who somebody is in each workshop."""

    def get_user(self, user_id: int) -> User | None:
        """Find who is signed in, unless their account was closed."""
        user = person(user_id)
        return user if user and self.user_can_authenticate(user) else None

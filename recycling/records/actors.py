"""Who is acting, in which workshop, with which rights."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from shared.roles import MANAGE, may


@dataclass(frozen=True)
class Actor:
    """The member on whose behalf something is asked.

    Attributes
    ----------
    workshop_id : int
        Key of the workshop, which is that of its book.
    workshop, slug, zone : str
        Its name, its short name in addresses, its IANA time zone.
    member_id : int
        Key of the membership.
    reference : UUID
        What the ledger keeps of the person.
    name, role : str
        How the member is called, and lead, operator or viewer.
    scope : str
        How much the key may do; a signed-in person has "manage" and is bound by the role.
    key : str
        The idempotency key of the request, empty when none was sent.
    confirmed : frozenset of str
        Keys of doubts, or pointers to figures, that the request says are right.
    """

    workshop_id: int
    workshop: str
    slug: str
    zone: str
    member_id: int
    reference: UUID
    name: str
    role: str
    scope: str = MANAGE
    key: str = ""
    confirmed: frozenset[str] = frozenset()

    @property
    def is_authenticated(self) -> bool:
        """Always true: an actor is somebody."""
        return True

    def may(self, action: str) -> bool:
        """Say whether this actor may take an action of ``shared.roles``."""
        return may(action, self.role, self.scope)

"""Which workshops there are, for the command line."""

from __future__ import annotations

from recycling.models import Member, Workshop
from recycling.queries.people.members import actor_named
from recycling.records.actors import Actor
from shared.errors import Unknown
from shared.roles import LEAD
from shared.said import say


def workshop_ids() -> dict[str, int]:
    """Map the short name of every workshop to its key, in order of name."""
    return dict(Workshop.objects.order_by("slug").values_list("slug", "pk"))


def workshop_id_of(slug: str) -> int:
    """Find the key of a workshop, or say which there are."""
    known = workshop_ids()
    if slug not in known:
        names = ", ".join(known) or "none yet"
        raise Unknown.because(
            "workshop-unknown",
            say("There is no workshop “{slug}”; there are: {names}.", slug=slug, names=names),
        )
    return known[slug]


def lead_of(slug: str) -> Actor | None:
    """Find the lead who has been in a workshop longest; None when there is none."""
    name = (
        Member.objects.filter(workshop__slug=slug, role=LEAD, left_at=None)
        .order_by("pk")
        .values_list("name", flat=True)
        .first()
    )
    return actor_named(slug, name) if name else None


def actor_called(slug: str, who: str) -> Actor | None:
    """Find a member of a workshop by name in the book, or else by sign-in name."""
    by_name = actor_named(slug, who)
    if by_name is not None:
        return by_name
    name = (
        Member.objects.filter(workshop__slug=slug, user__username=who, left_at=None)
        .values_list("name", flat=True)
        .first()
    )
    return actor_named(slug, name) if name else None


def last_sequence(workshop_id: int) -> int:
    """Read how many entries the book of a workshop holds."""
    return Workshop.objects.values_list("book__last_sequence", flat=True).get(pk=workshop_id)

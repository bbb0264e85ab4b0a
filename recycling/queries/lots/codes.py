"""Which of some codes a workshop has, and which of its own a mistyped one was meant to be."""

from __future__ import annotations

from collections.abc import Sequence

from recycling.models import Lot, Origin, PublicLink, Run
from recycling.queries.people.tokens import digest_of_link
from recycling.records.actors import Actor
from shared.slips import one_slip_away

MOST_SUGGESTIONS = 6
_KEPT_AS = (("LS", Lot), ("CPO", Origin), ("R", Run))


def present(actor: Actor, codes: Sequence[str]) -> list[str]:
    """Keep those codes that name something in the actor's workshop, in their order."""
    found: set[str] = set()
    for letters, kept in _KEPT_AS:
        wanted = [code for code in codes if code[:1] in letters]
        if wanted:
            rows = kept.objects.filter(workshop_id=actor.workshop_id, code__in=wanted)
            found.update(rows.values_list("code", flat=True))
    return [code for code in codes if code in found]


def meant(actor: Actor, typed: str) -> list[str]:
    """List codes of the actor's workshop that are one slip away from what was typed."""
    return present(actor, one_slip_away(typed))[:MOST_SUGGESTIONS]


def lot_behind(actor: Actor, token: str) -> str:
    """Give the code of the actor's spool that a public token opens; empty for anybody else's."""
    link = PublicLink.objects.filter(workshop_id=actor.workshop_id, digest=digest_of_link(token))
    return link.values_list("lot__code", flat=True).first() or ""

"""Refusing draws from held lots, holds on ancestors included."""

from __future__ import annotations

from collections.abc import Mapping

from recycling.queries.held import held_among
from shared.errors import Collected
from shared.said import say


def refuse_held(workshop_id: int, drawn: Mapping[int, str]) -> None:
    """Refuse a draw from a held lot; `drawn` maps lot ids to codes, in the order of inputs."""
    if not drawn:
        return
    held, found = held_among(workshop_id, drawn), Collected()
    for place, (lot_id, code) in enumerate(drawn.items()):
        if lot_id in held:
            hold = held[lot_id]
            through = "" if hold.lot_id == lot_id else f" because it descends from {hold.lot.code}"
            found.add(
                "lot-held",
                say(
                    "Lot {code} is on hold{through}: {value}. A lead can release it.",
                    code=code,
                    through=through,
                    value=hold.reason.rstrip("."),
                ),
                f"/inputs/{place}/lot",
            )
    found.refuse()

"""Which lots are on hold, by holds of their own or by spreading ones above them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, TypedDict

from recycling.models import Hold, Lot

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class _Placed(TypedDict):
        placed_name: str | None

    NamedHold = WithAnnotations[Hold, _Placed]

_IN_FORCE = """
WITH RECURSIVE down(hold_id, spreads, lot_id) AS (
  SELECT h.id, h.with_descendants, h.lot_id FROM recycling_hold h
   WHERE h.workshop_id = %s AND h.released_at IS NULL
  UNION
  SELECT down.hold_id, down.spreads, l.account_id FROM down
    JOIN recycling_draw d ON d.lot_id = down.lot_id AND d.mass_mg > 0
    JOIN recycling_lot l ON l.made_by_id = d.run_id
   WHERE down.spreads
) SELECT h.*, down.lot_id AS held_id, l.code AS lot_code, l.form AS lot_form,
         (SELECT m.name FROM recycling_member m WHERE m.reference = h.placed_by) AS placed_name
    FROM down JOIN recycling_hold h ON h.id = down.hold_id
    JOIN recycling_lot l ON l.account_id = h.lot_id
   ORDER BY down.lot_id, CASE WHEN h.lot_id = down.lot_id THEN 0 ELSE 1 END, h.id
"""


def holds_in_force(workshop_id: int) -> dict[int, list[NamedHold]]:
    """Map each held lot's id to the holds on it, its own first; one query."""
    held: dict[int, list[NamedHold]] = {}
    rows: Iterable[Any] = Hold.objects.raw(_IN_FORCE, [workshop_id])
    for hold in rows:
        hold.lot = Lot(pk=hold.lot_id, code=hold.lot_code, form=hold.lot_form)
        held.setdefault(hold.held_id, []).append(hold)
    return held


def held_among(workshop_id: int, lot_ids: Iterable[int]) -> dict[int, Hold]:
    """Map those of these lots that are held to one hold in force on each."""
    held = holds_in_force(workshop_id)
    return {lot_id: held[lot_id][0] for lot_id in lot_ids if lot_id in held}

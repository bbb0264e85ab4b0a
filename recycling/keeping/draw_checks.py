"""Refusing draws from held lots, holds on ancestors included.

Whether limits of the plastic were kept, said at once: drying, time open, moisture, heat.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from recycling.models import Run
from recycling.queries.lots.holds_in_force import held_among
from recycling.queries.planning.bench import dried_lots
from recycling.queries.process.limits_missed import LIMITED, limits_of
from recycling.records.process.limits_missed import LimitMissed
from recycling.stages import KEEPING_HEELS
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


def open_too_long(run: Run, codes: Sequence[str], at: datetime) -> tuple[str, ...]:
    """Say which lots lay open for longer than their limit before a run feeds them to the melt.

    Of a plastic that takes up no water nothing is said.
    """
    if run.stage not in KEEPING_HEELS or not codes:
        return ()
    return tuple(
        say(
            "{lot} was open to the air for {open_h:.1f} h since it was dried; the limit is"
            " {limit_h:g} h. {polymer} takes up water there: dry it again.",
            lot=one.lot,
            open_h=one.open_h,
            limit_h=one.limit_h,
            polymer=one.polymer,
        )
        for one in dried_lots(run.workshop_id, codes, at)
        if one.over
    )


def limits_doubted(run: Run, lots: Collection[str] | None = None) -> tuple[str, ...]:
    """Say which limits of its plastic a run did not keep.

    Of these lots only, if they are given; "" among them stands for the run itself.
    """
    if run.stage not in LIMITED:
        return ()
    worst: dict[tuple[str, str], LimitMissed] = {}
    for one in limits_of([run.pk]).missed.get(run.pk, ()):
        if lots is None or one.lot in lots:
            other = worst.get((one.kind, one.lot), one)
            worst[one.kind, one.lot] = max(one, other, key=lambda each: each.beyond)
    return tuple(one.said for one in worst.values())

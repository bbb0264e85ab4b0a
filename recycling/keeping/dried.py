"""Whether what is fed to the melt stayed dry: time open since the drying, said at the draw."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from recycling.models import Run
from recycling.queries.bench import dried_lots
from shared.said import say

MELTS = "extrude"


def open_too_long(run: Run, codes: Sequence[str], at: datetime) -> tuple[str, ...]:
    """Say which lots lay open for longer than their limit before a run feeds them to the melt."""
    if run.stage != MELTS or not codes:
        return ()
    return tuple(
        say(
            "{lot} was open to the air for {open_h:.1f} h since it was dried; the limit is"
            " {limit_h:g} h. Wet PET loses strength in the melt: dry it again.",
            lot=one.lot,
            open_h=one.open_h,
            limit_h=one.limit_h,
        )
        for one in dried_lots(run.workshop_id, codes, at)
        if one.over
    )

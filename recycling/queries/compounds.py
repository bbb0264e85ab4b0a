"""The processing window of what is in a machine, a purge compound's by where it came from."""

from __future__ import annotations

from recycling.models import Lot
from recycling.records.machine_page import HeelRow
from recycling.records.practice import WindowRow

COMPOUND = "purge compound"
PURGE = "purge"
"""Symbol under which every purge compound stands in the book, whatever its name."""


def heel_window(workshop_id: int, heel: HeelRow, windows: dict[str, WindowRow]) -> WindowRow | None:
    """Give the window of a heel: of its polymer, or of the purge compound that it is."""
    if heel.polymer in windows or heel.polymer != PURGE:
        return windows.get(heel.polymer)
    compounds = [one for one in windows.values() if one.kind == COMPOUND]
    told = _told(workshop_id, heel.lot)
    named = [one for one in compounds if one.material.casefold() in told]
    fitting = named or compounds
    return fitting[0] if len(fitting) == 1 else None


def _told(workshop_id: int, code: str) -> str:
    """Read what is written of where the purge compounds came from that went into a heel."""
    bought = Lot.objects.filter(
        workshop_id=workshop_id,
        form=COMPOUND,
        draws__run__outputs__code=code,
        draws__mass_mg__gt=0,
        origin__isnull=False,
    )
    told = bought.values_list("origin__supplier", "origin__document", "origin__note").distinct()
    return "\n".join(text for row in told for text in row).casefold()

"""What a mass and its weighing must obey."""

from __future__ import annotations

from recycling.keeping.texts import check_text
from recycling.records.lots.mass_entries import HOW, WeighingEntry
from shared.errors import Collected, Refused
from shared.said import say
from shared.units import checked_mass


def check_mass(mass_mg: int, pointer: str, found: Collected, zero: bool = False) -> None:
    """Note a problem when a mass is out of the book's bounds."""
    try:
        checked_mass(mass_mg, pointer, zero)
    except Refused as refused:
        found.problems.extend(refused.problems)


def check_weighing(entry: WeighingEntry, mass_mg: int, pointer: str, found: Collected) -> None:
    """Note problems of how a mass became known: gross less tare must be the net mass."""
    if entry.how not in HOW:
        found.add("how-unknown", say("Say one of: {how}.", how=", ".join(HOW)), f"{pointer}/how")
    for name in ("gross_mg", "tare_mg"):
        value = getattr(entry, name)
        if value is not None:
            check_mass(value, f"{pointer}/{name}", found, zero=True)
    gross, tare = entry.gross_mg, entry.tare_mg
    if gross is not None and gross - (tare or 0) != mass_mg:
        found.add(
            "gross-net-differ",
            "Gross less tare is not the net mass; give two of them, or make them agree.",
            f"{pointer}/gross_mg",
        )
    if entry.u_mg is not None:
        check_mass(entry.u_mg, f"{pointer}/u_mg", found)
    check_text(entry.raw, f"{pointer}/raw", found, 120)
    check_text(entry.note, f"{pointer}/note", found, 300)

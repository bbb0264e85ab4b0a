"""Where a report's mass is, came from and went to, in words that a reader knows."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from recycling.ledger.models import LOT, PROCESS
from recycling.records.reports.documents import MASS, TEXT, Column
from recycling.reports.movements import LotRow, Movement, Movements
from recycling.stages import BORDER_OF, TITLE_OF
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    HEEL,
    LOSSES,
    PRODUCT,
    RECEIVED,
    SIDE,
    UNACCOUNTED,
    WASTE,
)

UNPROCESSED, IN_WORK, SPOOLS = "unprocessed", "in work", "spools"
PLACES = (SPOOLS, SIDE, WASTE, IN_WORK, UNPROCESSED)
ROLE_OF_PLACE = {
    SPOOLS: "product",
    SIDE: "side",
    WASTE: "waste",
    IN_WORK: "again",
    UNPROCESSED: "again",
}
"""How a place is drawn."""


def place_title(place: str) -> str:
    """Name a place for people."""
    return {
        SPOOLS: _("Filament"),
        SIDE: _("Side streams"),
        WASTE: _("Waste"),
        IN_WORK: _("Material in work"),
        UNPROCESSED: _("Not yet processed"),
    }[place]


def place_of(found: Movements, lot: LotRow) -> str:
    """Say where a lot is counted."""
    if lot.role in (SIDE, WASTE):
        return lot.role
    if BORDER_OF[found.runs[lot.maker].stage] == RECEIVED and lot.form != HEEL:
        return UNPROCESSED
    if lot.form == "filament" and lot.role == PRODUCT:
        return SPOOLS
    return IN_WORK


@dataclass
class Places:
    """Masses by place, mg: on hand at both ends, and what left from there in the period."""

    opening: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    closing: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    dispatched: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    discarded: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    received: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    """By kind of origin."""


def places_of(found: Movements) -> Places:
    """Add up masses by place."""
    places = Places()
    for lot_id, (opening_mg, closing_mg) in found.stock.items():
        place = place_of(found, found.lots[lot_id])
        places.opening[place] += found.part(lot_id, opening_mg)
        places.closing[place] += found.part(lot_id, closing_mg)
    for moved in found.inside:
        border = border_of(found, moved)
        if border == RECEIVED:
            places.received[found.runs[moved.run_id].origin_kind] += moved.mass_mg
        elif border == DISPATCHED:
            places.dispatched[place_of(found, found.lots[moved.lot_id])] -= moved.mass_mg
        elif border == DISCARDED:
            places.discarded[place_of(found, found.lots[moved.lot_id])] -= moved.mass_mg
    return places


def border_of(found: Movements, moved: Movement) -> str:
    """Name the border at which a lot moved; empty for work, and for other accounts."""
    return BORDER_OF[found.runs[moved.run_id].stage] if moved.account == LOT else ""


def stage_title(key: str) -> str:
    """Name a stage for people; one that is declared no more keeps its key."""
    return _(TITLE_OF.get(key, key))


def account_title(name: str) -> str:
    """Name a loss account for people."""
    titles = {
        "water": _("Water"),
        "residue": _("Residue"),
        "dust": _("Dust"),
        "volatiles": _("Volatiles"),
        UNACCOUNTED: _("Unaccounted"),
        PROCESS: _("In open runs"),
    }
    assert set(titles) == {*LOSSES, UNACCOUNTED, PROCESS}
    return titles[name]


def said_mass(mass_mg: int) -> str:
    """Write a mass in a sentence: kilograms with two decimals, grams below one kilogram."""
    if abs(mass_mg) >= 1_000_000:
        return _("{number} kg").format(number=rounded(mass_mg / 1_000_000, 2))
    return _("{number} g").format(number=rounded(mass_mg / 1000, 0))


def rounded(number: float, decimals: int) -> str:
    """Write a number in a sentence with so many decimals; Django's own formatting cuts them off."""
    return number_format(f"{number:.{decimals}f}", decimals)


def mass(key: str, title: str, how: str = "mixed") -> Column:
    """Make a column of masses."""
    return Column(key, title, MASS, how=how)


def words(key: str, title: str) -> Column:
    """Make a column of words."""
    return Column(key, title, TEXT)

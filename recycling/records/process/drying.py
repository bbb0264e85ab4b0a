"""How lots were dried, and how long they lay open since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class OpenRow:
    """How long a lot was open to the air until it was fed, or until now.

    Attributes
    ----------
    run : str
        The run it was fed to; empty for now.
    until : datetime
        When.
    open_h, limit_h : float
        Hours open, and the limit.
    within : bool
        Whether the limit was kept.
    moisture_percent : float or None
        Most moisture that it can have had then, percent; a bound.
    viscosity_loss : float or None
        Most intrinsic viscosity that this can cost in the melt, dL/g.
    dry : bool or None
        Whether the bound is within the moisture limit; None where one of them is not known.
    """

    run: str
    until: datetime
    open_h: float
    limit_h: float
    within: bool
    moisture_percent: float | None = None
    viscosity_loss: float | None = None
    dry: bool | None = None


@dataclass(frozen=True)
class DryingRow:
    """How a lot was dried.

    Attributes
    ----------
    run, polymer, recipe, recipe_source, temperature_source : str
        The run, the polymer, the recipe in words and its source, and where the temperatures are
        from: "real", "set" or "typed".
    at_temperature_h, missing_h, too_hot_h : float or None
        Time within the recipe's temperatures, what is missing, and the time above them; None
        where nothing was logged or there is no recipe.
    dry_enough : bool or None
        Whether it was long enough.
    open : tuple of OpenRow
        Time open, for each time it was fed and for what is left now.
    moisture_percent : float or None
        Estimate of the moisture that is left, percent.
    moisture_measured : bool
        Whether it was measured after all.
    viscosity_loss, viscosity_before : float or None
        Estimate of the most that hydrolysis can cost with all it can have taken up since, and
        what it is taken from, dL/g.
    estimate_source : str
        Where the numbers behind the estimates are from.
    takes_up_water : bool or None
        Whether the polymer takes up water; None where nobody said.
    limit_percent : float or None
        Its most moisture at the feed, percent.
    room : str
        Temperature and humidity of the room that the bounds are for.
    """

    run: str
    polymer: str
    recipe: str
    recipe_source: str
    temperature_source: str
    at_temperature_h: float | None
    missing_h: float | None
    too_hot_h: float | None
    dry_enough: bool | None
    open: tuple[OpenRow, ...]
    moisture_percent: float | None
    moisture_measured: bool
    viscosity_loss: float | None
    viscosity_before: float | None
    estimate_source: str
    takes_up_water: bool | None = None
    limit_percent: float | None = None
    room: str = ""

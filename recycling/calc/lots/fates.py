"""What became of an origin: its mass over the places where it is now, adding up exactly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Holding:
    """A lot that holds some of the origin.

    Attributes
    ----------
    place : str
        Where its mass on hand is counted.
    part_mg, made_mg : int
        The origin's mass in it and its whole mass as made, in mg.
    on_hand_mg, drawn_mg : int
        What is on hand, and what runs drew from it in all, in mg.
    """

    place: str
    part_mg: int
    made_mg: int
    on_hand_mg: int
    drawn_mg: int

    @property
    def share(self) -> float:
        """The origin's share of the lot, from 0 to 1."""
        return self.part_mg / self.made_mg if self.made_mg else 0.0


@dataclass(frozen=True)
class Passing:
    """A run that drew some of the origin.

    Attributes
    ----------
    fed_mg : float
        The origin's mass among what it drew, in mg.
    drawn_mg : int
        What it drew in all, in mg.
    left_mg : mapping of str to int
        By place what did not become a lot: losses, what crossed the border, what is still in
        process, in mg.
    """

    fed_mg: float
    drawn_mg: int
    left_mg: Mapping[str, int]


def fate(
    received_mg: int, holdings: Sequence[Holding], passings: Sequence[Passing]
) -> dict[str, int]:
    """Share what came in over the places where it is now.

    Parameters
    ----------
    received_mg : int
        Mass of the origin, in mg.
    holdings : sequence of Holding
        Every lot that holds some of it.
    passings : sequence of Passing
        Every run that drew some of it.

    Returns
    -------
    dict of str to int
        Mass by place in mg; adds up to `received_mg` exactly. What stock counts changed is
        "unaccounted"; what lies below the floor of compositions is "traces".

    Notes
    -----
    A run's losses carry its inputs' shares (well mixed), so each place holds
    Σ on hand · share over lots + Σ left · fed/drawn over runs. Differences of rounding below
    one milligram a line are put on the largest line.

    Examples
    --------
    >>> fate(100, [Holding("in stock", 90, 90, 90, 0)], [Passing(100.0, 100, {"dust": 10})])
    {'in stock': 90, 'dust': 10}
    """
    places: dict[str, float] = {}
    for lot in holdings:
        places[lot.place] = places.get(lot.place, 0.0) + lot.on_hand_mg * lot.share
        counted_away = lot.made_mg - lot.drawn_mg - lot.on_hand_mg
        if counted_away:
            places["unaccounted"] = places.get("unaccounted", 0.0) + counted_away * lot.share
    for run in passings:
        share = run.fed_mg / run.drawn_mg if run.drawn_mg else 0.0
        for place, mass_mg in run.left_mg.items():
            places[place] = places.get(place, 0.0) + mass_mg * share
    whole = {place: round(mass_mg) for place, mass_mg in places.items()}
    rest = received_mg - sum(whole.values())
    if rest > len(whole):
        whole["traces"] = rest
    elif rest and whole:
        whole[max(whole, key=lambda place: abs(whole[place]))] += rest
    elif rest:
        whole["traces"] = rest
    return {place: mass_mg for place, mass_mg in whole.items() if mass_mg}

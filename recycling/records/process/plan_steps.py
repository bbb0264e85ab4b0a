"""What a plan of a change of plastic is made of: steps, needs against stock, what it lacks."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class StepRow:
    """One step: what is fed, set temperatures in order, mass to be fed, time, in words.

    Attributes
    ----------
    feed, sentence : str
        What is fed, and the step in words.
    temperatures_c : tuple of float
        Set point of all zones together, or the two ends of a ramp.
    mass_g : float
        Mass to be fed.
    minutes, margin_k : float or None
        Time it takes, and the smallest distance of what is in the barrel from an end of its
        temperature range; None in plans kept before these were worked out.
    """

    feed: str
    sentence: str
    temperatures_c: tuple[float, ...]
    mass_g: float
    minutes: float | None = None
    margin_k: float | None = None


@dataclass(frozen=True)
class NeedRow:
    """A material that a plan feeds, against what is in stock.

    Attributes
    ----------
    material : str
        A polymer, or a purge compound by its name.
    mass_g, stock_g : float
        Mass that the plan feeds, and mass on hand that is ready for the melt and not on hold.
    """

    material: str
    mass_g: float
    stock_g: float

    @property
    def enough(self) -> bool:
        """Whether the stock is enough."""
        return self.stock_g >= self.mass_g


@dataclass(frozen=True)
class MissingRow:
    """What a plan lacks.

    Attributes
    ----------
    kind : str
        "hold-up", "window", "compound" or "which compound".
    material, sentence : str
        Of what, where it is one; and what is missing, in words.
    """

    kind: str
    material: str
    sentence: str
